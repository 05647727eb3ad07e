package main

import (
	"fmt"
	"io"

	"drystage/harness/show/trace"
)

// injected prints what faults did to samples.
func (c *showCmd) injected(d *console) error {
	if c.CSV != "" && (len(c.Records) != 1 || c.Injected) {
		return wrongUse("--csv takes one record, and goes without --injected")
	}
	for i, name := range c.Records {
		rec, err := load(name)
		if err != nil {
			return status{misused, err}
		}
		if c.Injected {
			if i > 0 {
				fmt.Fprintln(d.out)
			}
			if len(c.Records) > 1 {
				sayf(d.out, "%s\n", rec.Plan.Name)
			}
			if err := trace.Table(d.out, &rec); err != nil {
				return err
			}
			continue
		}
		bay := -1
		if c.Role != "" {
			if bay, err = rec.Bay(c.Role); err != nil {
				return status{misused, errorf("%s: %w", name, err)}
			}
		}
		if c.CSV == "-" {
			return trace.CSV(raw(d.out), &rec, bay)
		}
		if err := writeWhole(c.CSV, func(w io.Writer) error { return trace.CSV(w, &rec, bay) }); err != nil {
			return status{misused, err}
		}
	}
	return nil
}
