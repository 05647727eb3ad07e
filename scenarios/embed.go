// Package scenarios is the shipped suite: scenario files, and the vehicle, motors and boards that
// they fly. It holds no code.
package scenarios

import "embed"

// Files holds the suite: *.yaml are its scenarios.
//
//go:embed *.yaml vehicles boards motors rigs
var Files embed.FS
