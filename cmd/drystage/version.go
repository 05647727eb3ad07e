package main

import "drystage/harness/run"

type versionCmd struct{}

// Run prints what made this binary.
func (*versionCmd) Run(d *console) error {
	m := run.Maker()
	_, err := sayf(d.out, "drystage %s, %s, %s\n", m.Version, m.Go, m.Arch)
	return err
}
