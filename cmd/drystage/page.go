package main

import (
	"io"
	"os"
	"path/filepath"

	"drystage/harness"
	"drystage/harness/show/page"
	"drystage/harness/show/report"
)

// evidencePage collects the page of a run while records are flown or read.
type evidencePage struct {
	file string // empty: no page was asked for
	runs []page.Summary
}

// check checks before the flights that the file can be written.
func (e *evidencePage) check() error {
	if e.file == "" {
		return nil
	}
	if info, err := os.Stat(e.file); err == nil && info.IsDir() {
		return wrongUse("--html %s is a folder; give the name of a file in it", e.file)
	}
	dir := filepath.Dir(e.file)
	if info, err := os.Stat(dir); err != nil || !info.IsDir() {
		return wrongUse("--html %s: found no folder %s; make it first", e.file, dir)
	}
	return nil
}

// add extracts what the page shows of a record, whose memory may be reused afterwards.
func (e *evidencePage) add(rec *harness.Record, v harness.Verdict) {
	if e.file != "" {
		e.runs = append(e.runs, page.Summarize(rec, v))
	}
}

// write writes the page completely or not at all, and prints its name if the format is text.
func (e *evidencePage) write(d *console, format string, opt report.Options) error {
	return e.writeOf(d, format, func(w io.Writer) error { return page.Write(w, e.runs, opt) })
}

// writeOf does so with any page.
func (e *evidencePage) writeOf(d *console, format string, write func(io.Writer) error) error {
	if e.file == "" {
		return nil
	}
	if err := writeWhole(e.file, func(w io.Writer) error { return writePrintable(w, write) }); err != nil {
		return status{misused, err}
	}
	if format == "text" {
		sayf(d.out, "page: %s\n", e.file)
	}
	return nil
}
