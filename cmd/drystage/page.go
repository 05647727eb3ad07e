package main

import (
	"io"
	"os"
	"path/filepath"

	"drystage/harness"
	"drystage/harness/show/page"
	"drystage/harness/show/report"
)

// evidence is the page of a run while it is being flown or read again.
type evidence struct {
	file string // empty: no page was asked for
	runs []page.Summary
}

// check refuses a file that can't be written, before anything flies.
func (e *evidence) check() error {
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

// add takes what the page shows of a record; the record's memory may serve another run afterwards.
func (e *evidence) add(rec *harness.Record, v harness.Verdict) {
	if e.file != "" {
		e.runs = append(e.runs, page.Summarize(rec, v))
	}
}

// write writes the page whole or not at all, and says so among text.
func (e *evidence) write(d *desk, format string, opt report.Options) error {
	if e.file == "" {
		return nil
	}
	if err := whole(e.file, func(w io.Writer) error {
		return safely(w, func(w io.Writer) error { return page.Write(w, e.runs, opt) })
	}); err != nil {
		return status{misused, err}
	}
	if format == "text" {
		sayf(d.out, "page: %s\n", e.file)
	}
	return nil
}
