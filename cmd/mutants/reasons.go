package main

import "drystage/harness/judge/mutants"

// Why mutants of the built-in board live.
var reasonsGo = []mutants.Reason{}

// Why mutants of the reference firmware live.
var reasonsC = []mutants.Reason{}
