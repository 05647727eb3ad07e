//go:build !linux

package rig

import "drystage/harness"

// kernelLine exists on Linux only.
type kernelLine struct{ input }

func (*kernelLine) set(bool) error { return ErrPin }

func kernelInput(harness.Pin) (*kernelLine, bool, error)   { return nil, false, nil }
func kernelOutput(string, bool) (*kernelLine, bool, error) { return nil, false, nil }
