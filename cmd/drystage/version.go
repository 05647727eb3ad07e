package main

import (
	"fmt"

	"drystage/harness/run"
)

type versionCmd struct{}

// versionText tells what made this binary.
func versionText() string {
	m := run.Maker()
	return fmt.Sprintf("drystage %s, %s, %s", m.Version, m.Go, m.Arch)
}

// Run prints it, as --version does.
func (*versionCmd) Run(d *console) error {
	_, err := sayf(d.out, "%s\n", versionText())
	return err
}
