package main

import (
	"fmt"
	"os"
	"runtime/debug"

	"drystage/harness/logs"
)

// openLog reads a log of any kind. Without a mapping it prints the proposed one that it uses.
func openLog(d *console, name, mapping, role string) (*logs.Log, error) {
	l, err := logs.OpenFile(name, mapping, role, logs.FileOptions{
		Progress: func(f *os.File) (func(int64), func()) {
			if info, err := f.Stat(); err == nil && info.Size() > 32<<20 {
				debug.SetGCPercent(20) // the columns stay for good: little is gained by letting garbage grow to their size
			}
			return reading(d, f)
		},
		Proposed: func(p *logs.Proposal) { sayf(d.err, "%s: read as\n%s", name, p.YAML()) },
	})
	if err != nil {
		return nil, status{misused, err}
	}
	for _, n := range l.Notes {
		fmt.Fprintln(d.err, n)
	}
	return l, nil
}

// reading tells of progress in a large file.
func reading(d *console, f *os.File) (told func(int64), done func()) {
	info, err := f.Stat()
	if err != nil || info.Size() < 8<<20 {
		return nil, func() {}
	}
	p := startProgress(d.err, info.Size(), "reading", "read", false)
	return p.set, p.done
}
