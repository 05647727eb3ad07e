package main

import (
	"fmt"
	"io"
	"slices"

	"drystage/harness"
	"drystage/harness/board"
	"drystage/harness/outlet"
)

// outlets are the ports on which receivers speak, by address; each is opened once for all scenarios.
type outlets map[string]*outlet.Port

// openOutlets opens the ports of all plans. What can't be opened is told with its place in its file.
func openOutlets(d *desk, plans []harness.Plan) (outlets, error) {
	open := outlets{}
	var problems []harness.Problem
	tried := map[string]bool{}
	for i := range plans {
		for _, b := range plans[i].Boards {
			address := b.NMEA.Port
			if address == "" || tried[address] {
				continue
			}
			tried[address] = true
			p, err := outlet.Open(d.ctx, address)
			if err != nil {
				problems = append(problems, harness.Problem{Place: b.NMEA.Place, Found: "a port that can't be opened: " + err.Error(), Wanted: "a port for the sentences of " + b.Role + "'s receiver"})
				continue
			}
			open[address] = p
		}
	}
	if len(problems) > 0 {
		open.close()
		return nil, all(problems)
	}
	return open, nil
}

func (o outlets) close() {
	for _, p := range o {
		p.Close()
	}
}

// wrap lets the receivers of a plan's boards speak.
func (o outlets) wrap(p *harness.Plan, boards []board.Board, lockstep bool) []board.Board {
	boards = slices.Clone(boards)
	for i := range boards {
		if port := o[p.Boards[i].NMEA.Port]; port != nil {
			boards[i] = outlet.Wrap(boards[i], i, &p.Boards[i].NMEA, port, lockstep)
		}
	}
	return boards
}

// sentences writes what a board's receiver said as NMEA 0183.
func (c *showCmd) sentences(d *desk) error {
	rec, bay, err := c.one("--nmea")
	if err != nil {
		return err
	}
	if rec.Plan.Setup.Bays[bay].Sensors.GNSS.Rate <= 0 {
		return wrongUse("%s: board %s has no gnss", c.Records[0], rec.Plan.Setup.Bays[bay].Name)
	}
	text, sets := outlet.Text(&rec, bay)
	write := func(w io.Writer) error { _, err := w.Write(text); return err }
	if c.NMEA == "-" {
		return write(d.out)
	}
	if err := whole(c.NMEA, write); err != nil {
		return status{misused, err}
	}
	_, err = fmt.Fprintf(d.out, "%s: %s of sentences of %s\n", c.NMEA, count(sets, "set"), rec.Plan.Setup.Bays[bay].Name)
	return err
}
