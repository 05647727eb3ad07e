//go:build linux

package rig

import "drystage/harness"

// kernelLine is a pin taken from the kernel itself.
type kernelLine struct{ input }

func (kernelLine) set(bool) error { return ErrPin }

func kernelInput(harness.Pin) (kernelLine, bool, error)   { return kernelLine{}, false, nil }
func kernelOutput(string, bool) (kernelLine, bool, error) { return kernelLine{}, false, nil }
