// Package ready makes the readiness sheet of a vehicle and its boards out of records: what was proven on
// the bench, how close it was, by which records, and what is still open. Records come in one at a time, in
// any order, and each is distilled at once.
//
// Only a record that passes proves anything here; what only a failing or an unsure one showed stays open. So
// a failing record never closes a point. The package reads no file and no clock, and it never says that
// something is ready to fly: it knows what is open on the bench, and no more.
package ready

import (
	"drystage/harness"
	"drystage/harness/judge/coverage"
	"drystage/harness/judge/verdict"
)

// Source is a record's file, and the SHA-256 of its bytes in hex.
type Source struct{ File, Sum string }

// Evidence gathers records. Its zero value is empty, and knows not what judges: then every record is one of
// another version.
type Evidence struct {
	By      harness.Maker // what judges
	flights []flight
	bySum   map[string]int
	tried   coverage.Table
	suite   Suite
}

// Add judges a record, with the doubts of its audit, keeps what a sheet says of it, and gives the verdict. The
// record is the caller's again. One that was added before counts once.
func (e *Evidence) Add(src Source, rec *harness.Record, doubts ...harness.Finding) harness.Verdict {
	v := verdict.Judge(rec, doubts...)
	if i, known := e.bySum[src.Sum]; known {
		e.flights[i].files = append(e.flights[i].files, src.File)
		return v
	}
	if e.bySum == nil {
		e.bySum = map[string]int{}
	}
	e.bySum[src.Sum] = len(e.flights)
	f := summarise(src, rec, &v)
	if !f.malformed {
		e.tried.Add(rec)
	}
	e.flights = append(e.flights, f)
	return v
}

// Suite are the scenario files that a sheet is held against. The zero value: none, nothing was compared.
type Suite struct {
	Compared bool
	Paths    []string // as a command line names them; none for the shipped suite
	Files    []SuiteFile
}

// SuiteFile is a scenario file as it is today.
type SuiteFile struct {
	Name   string // of the scenario
	File   string
	Digest string // of all files that it is made of
	Flown  Flown
}

// Flown says whether there is a record of a scenario file.
type Flown uint8

// The answers, as of a record whose files were those of today.
const (
	NotFlown Flown = iota
	FlownBefore
	FlownAsItIs
)

// String gives the words used on sheets.
func (f Flown) String() string { return [...]string{"no record", "changed since", "flown"}[f] }

// Compare names the scenario files that the records should cover.
func (e *Evidence) Compare(paths []string, files []SuiteFile) {
	e.suite = Suite{Compared: true, Paths: paths, Files: files}
}
