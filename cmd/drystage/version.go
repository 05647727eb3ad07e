package main

import (
	"runtime"
	"runtime/debug"

	"drystage/harness"
)

type versionCmd struct{}

// Run prints what made this binary.
func (*versionCmd) Run(d *desk) error {
	m := maker()
	_, err := sayf(d.out, "drystage %s, %s, %s\n", m.Version, m.Go, m.Arch)
	return err
}

// maker says what makes the records of this binary.
func maker() harness.Maker {
	m := harness.Maker{Version: "devel", Go: runtime.Version(), Arch: runtime.GOOS + "/" + runtime.GOARCH}
	if info, ok := debug.ReadBuildInfo(); ok {
		for _, s := range info.Settings {
			switch {
			case s.Key == "vcs.revision":
				m.Version = s.Value[:min(12, len(s.Value))]
			case s.Key == "vcs.modified" && s.Value == "true":
				m.Version += "+changes"
			}
		}
	}
	return m
}
