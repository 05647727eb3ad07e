package main

import (
	"io"
	"os"
	"path/filepath"
	"strings"

	"drystage/harness"
	"drystage/harness/judge/dispersion"
	"drystage/harness/show/report"
)

// sampleTable is the file of a sweep with a row a flight.
type sampleTable struct {
	file  string // empty: none was asked for
	plans int
}

func (c *sweepCmd) samplesOf(plans []harness.Plan) *sampleTable {
	return &sampleTable{c.Samples, len(plans)}
}

// writer writes the format that the name of the file tells; nil: it tells none.
func (t *sampleTable) writer() func(io.Writer, *dispersion.Sheet) error {
	switch strings.ToLower(filepath.Ext(t.file)) {
	case ".csv":
		return report.Samples
	case ".parquet":
		return report.SamplesParquet
	}
	return nil
}

// check checks before the flights that the file can be written.
func (t *sampleTable) check() error {
	if t.file == "" {
		return nil
	}
	if t.writer() == nil {
		return wrongUse("--samples %s: wanted a name that ends in .csv or .parquet", t.file)
	}
	if t.plans != 1 {
		return wrongUse("--samples with %s: each has columns of its own; sweep one after the other", count(t.plans, "scenario"))
	}
	if info, err := os.Stat(filepath.Dir(t.file)); err != nil || !info.IsDir() {
		return wrongUse("--samples %s: found no folder %s; make it first", t.file, filepath.Dir(t.file))
	}
	return nil
}

// write writes the table completely or not at all.
func (t *sampleTable) write(sheets []*dispersion.Sheet) error {
	if t.file == "" {
		return nil
	}
	if err := writeWhole(t.file, func(w io.Writer) error { return t.writer()(w, sheets[0]) }); err != nil {
		return status{misused, err}
	}
	return nil
}
