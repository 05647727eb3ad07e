package main

import (
	"bufio"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"sync"

	"drystage/harness"
	"drystage/harness/board/receiver"
	"drystage/harness/logs"
)

// export writes a board's samples and outputs as a flight log.
func (c *showCmd) export(d *console) error {
	rec, bay, err := c.one("--log")
	if err != nil {
		return err
	}
	l, err := logs.FromRecord(&rec, bay)
	if err != nil {
		return status{misused, errorf("%s: %w", c.Records[0], err)}
	}
	if err := writeWhole(c.Log, func(w io.Writer) error { return logs.Write(w, l) }); err != nil {
		return status{misused, err}
	}
	sayf(d.out, "%s: %d samples of %s, %s\n", c.Log, l.Samples(), rec.Plan.Setup.Bays[bay].Name, span(l))
	return nil
}

// one reads the only record that a flag takes, and finds the board that --role names.
func (c *showCmd) one(flag string) (rec harness.Record, bay int, err error) {
	if len(c.Records) != 1 {
		return rec, 0, wrongUse("%s takes one record, found %d", flag, len(c.Records))
	}
	if rec, err = load(c.Records[0]); err == nil {
		if bay, err = rec.Bay(c.Role); err != nil {
			err = errorf("%s: %w", c.Records[0], err)
		}
	}
	if err != nil {
		return rec, 0, status{misused, err}
	}
	return rec, bay, nil
}

func span(l *logs.Log) string {
	from, to := l.Span()
	return fmt.Sprintf("%s to %s", from, to)
}

// unfinished are the names of files being written, to be removed if this process ends early.
var unfinished sync.Map

// writeWhole writes a file writeWhole or not at all.
func writeWhole(name string, write func(io.Writer) error) (err error) {
	if info, err := os.Stat(name); err == nil && !info.Mode().IsRegular() {
		return errorf("%s is there already and is no regular file; give another name", name)
	}
	f, err := os.CreateTemp(filepath.Dir(name), ".drystage-*")
	if err != nil {
		return err
	}
	unfinished.Store(f.Name(), nil)
	defer func() {
		if err != nil {
			f.Close()
			os.Remove(f.Name())
		}
		unfinished.Delete(f.Name())
	}()
	b := bufio.NewWriter(f)
	if err := write(b); err != nil {
		return err
	}
	if err := b.Flush(); err != nil {
		return err
	}
	if err := f.Chmod(0o644); err != nil {
		return err
	}
	if err := f.Close(); err != nil {
		return err
	}
	return os.Rename(f.Name(), name)
}

// sentences writes the NMEA 0183 sentences of a board's receiver.
func (c *showCmd) sentences(d *console) error {
	rec, bay, err := c.one("--nmea")
	if err != nil {
		return err
	}
	if rec.Plan.Setup.Bays[bay].Sensors.GNSS.Rate <= 0 {
		return wrongUse("%s: board %s has no gnss", c.Records[0], rec.Plan.Setup.Bays[bay].Name)
	}
	text, sets := receiver.Text(&rec, bay)
	write := func(w io.Writer) error { _, err := w.Write(text); return err }
	if c.NMEA == "-" {
		return write(raw(d.out))
	}
	if err := writeWhole(c.NMEA, write); err != nil {
		return status{misused, err}
	}
	_, err = sayf(d.out, "%s: %s of sentences of %s\n", c.NMEA, count(sets, "set"), rec.Plan.Setup.Bays[bay].Name)
	return err
}
