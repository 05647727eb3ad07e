// Package ready makes the readiness sheet of a vehicle and its boards from records: what was proven on the bench, with
// which margins, by which records, and what is still open. Records are added one at a time, in any order, and each is
// summarised at once.
//
// Only a record that passes proves anything; a failing or unsure record never closes a point. The package reads no file
// and no clock, and it never says that something is ready to fly: it only knows what is open on the bench.
package ready

import (
	"drystage/harness"
	"drystage/harness/judge/coverage"
	"drystage/harness/judge/verdict"
)

// Source is a record's file, and the SHA-256 of its bytes in hex.
type Source struct{ File, Sum string }

// Evidence collects records. With its zero value every record counts as made by another version.
type Evidence struct {
	By      harness.Maker // the version that judges
	flights []flight
	bySum   map[string]int
	tried   coverage.Table
	suite   Suite
}

// Add judges a record with the doubts of its audit, keeps its summary, and gives the verdict. It doesn't keep the
// record. A record that was added before counts once.
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

// Suite are the scenario files that the records are compared with. The zero value: not compared.
type Suite struct {
	Compared bool
	Paths    []string // as a command line names them; none for the shipped suite
	Files    []SuiteFile
}

// SuiteFile is a current scenario file.
type SuiteFile struct {
	Name   string // of the scenario
	File   string
	Digest string // of all files that it is made of
	Flown  Flown
}

// Flown says whether there is a record of a scenario file.
type Flown uint8

// Whether there is a record, and whether it was made from the current files.
const (
	NotFlown Flown = iota
	FlownBefore
	FlownAsItIs
)

// String gives the words used on sheets.
func (f Flown) String() string { return [...]string{"no record", "changed since", "flown"}[f] }

// Compare sets the scenario files that the records should cover.
func (e *Evidence) Compare(paths []string, files []SuiteFile) {
	e.suite = Suite{Compared: true, Paths: paths, Files: files}
}
