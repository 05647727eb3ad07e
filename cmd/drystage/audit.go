package main

import (
	"os"

	"drystage/harness"
	"drystage/harness/files/scenario"
	"drystage/harness/judge/audit"
	"drystage/harness/run"
	"drystage/sim"
	"drystage/sim/world"
)

// auditOptions gives the options for recomputing records. suite are the plans that they are compared with.
func auditOptions(suite []harness.Plan) audit.Options {
	return audit.Options{Made: run.Maker(), Suite: suite, Source: sourceOf}
}

// sourceOf gives the simulated world, or the log that a plan plays if its file has not changed.
func sourceOf(p *harness.Plan, _ []sim.Output) (sim.Source, error) {
	if p.Log.File == "" {
		return world.New(&p.Setup), nil
	}
	for _, f := range p.Files {
		if f.Sum == "" {
			continue
		}
		switch sum, err := digest(f.Name); {
		case err != nil:
			return nil, errorf("it is that of a log, which is not at hand: %w", err)
		case sum != f.Sum:
			return nil, errorf("it is that of a log, and %s has changed since", f.Name)
		}
	}
	src, err := run.Played(p)
	if err != nil {
		return nil, err
	}
	return src(&p.Setup), nil
}

// digest gives the SHA-256 of a file's bytes in hex.
func digest(name string) (string, error) {
	f, err := os.Open(name)
	if err != nil {
		return "", err
	}
	defer f.Close()
	return scenario.Digest(f)
}
