package main

import (
	"bufio"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"drystage/harness"
	"drystage/harness/logs"
)

// export writes one board's side of a record as a flight log.
func (c *showCmd) export(d *desk) error {
	if len(c.Records) != 1 {
		return wrongUse("--log takes one record, found %d", len(c.Records))
	}
	rec, err := load(c.Records[0])
	if err != nil {
		return status{misused, err}
	}
	l, err := logOf(&rec, c.Role)
	if err != nil {
		return status{misused, fmt.Errorf("%s: %w", c.Records[0], err)}
	}
	if err := whole(c.Log, func(w io.Writer) error { return logs.Write(w, l) }); err != nil {
		return status{misused, err}
	}
	fmt.Fprintf(d.out, "%s: %d samples of %s, %s\n", c.Log, l.Samples(), c.role(&rec), span(l))
	return nil
}

func (c *showCmd) role(rec *harness.Record) string {
	if c.Role == "" {
		return rec.Plan.Setup.Bays[0].Name
	}
	return c.Role
}

func span(l *logs.Log) string {
	from, to := l.Span()
	return fmt.Sprintf("%s to %s", from, to)
}

// logOf takes a board's log out of a record; no role means the first board.
func logOf(rec *harness.Record, role string) (*logs.Log, error) {
	var roles []string
	for _, b := range rec.Plan.Setup.Bays {
		roles = append(roles, b.Name)
	}
	i := slices.Index(roles, role)
	if role == "" {
		i = 0
	}
	if i < 0 {
		return nil, fmt.Errorf("found board %q, wanted %s", role, strings.Join(roles, " or "))
	}
	return logs.FromRecord(rec, i)
}

// whole writes a file whole or not at all.
func whole(name string, write func(io.Writer) error) (err error) {
	f, err := os.CreateTemp(filepath.Dir(name), ".drystage-*")
	if err != nil {
		return err
	}
	defer func() {
		if err != nil {
			f.Close()
			os.Remove(f.Name())
		}
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
