package main

import (
	"drystage/harness"
	"drystage/harness/judge/verdict"
)

// earlierVerdicts judges the records of a folder again; none if no folder is named.
func earlierVerdicts(dir string) (vs []harness.Verdict, err error) {
	if dir == "" {
		return nil, nil
	}
	names, err := recordsBelow([]string{dir})
	if err != nil {
		return nil, err
	}
	for _, name := range names {
		rec, err := load(name)
		if err != nil {
			return nil, status{misused, err}
		}
		vs = append(vs, verdict.Judge(&rec))
	}
	return vs, nil
}
