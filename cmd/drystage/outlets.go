package main

import (
	"io"
	"slices"
	"strings"

	"drystage/harness"
	"drystage/harness/board"
	"drystage/harness/board/receiver"
)

// outlets are the ports on which receivers speak, by address; each is opened once for all scenarios.
type outlets map[string]*receiver.Port

// feed reads --nmea arguments, each ROLE=ADDR, and writes the addresses into the plans of boards that have such
// an input. It opens nothing.
func feed(args []string, plans []harness.Plan) error {
	taken := map[string]string{}
	for _, a := range args {
		m := roleFirst.FindStringSubmatch(a)
		if m == nil {
			return wrongUse("--nmea %s: wanted ROLE=ADDR, such as sustainer=serial:/dev/ttyUSB1", a)
		}
		role, address := m[1], m[2]
		if err := receiver.Check(address); err != nil {
			return wrongUse("--nmea %s: %w", a, err)
		}
		for _, what := range []string{role, address} {
			if other, ok := taken[what]; ok {
				return wrongUse("--nmea %s and --nmea %s: wanted one address for each board, and one board for each address", other, a)
			}
			taken[what] = a
		}
		if err := feedRole(role, address, plans); err != nil {
			return err
		}
	}
	return nil
}

// feedRole gives all boards of a role their address.
func feedRole(role, address string, plans []harness.Plan) error {
	fed := false
	for i := range plans {
		for k := range plans[i].Boards {
			b := &plans[i].Boards[k]
			if b.Role != role || b.NMEA.Rate <= 0 {
				continue
			}
			fed, b.NMEA.Port = true, address
			if n := baud(address); strings.HasPrefix(address, "serial:") && n < b.NMEA.Needs() {
				return wrongUse("--nmea %s=%s: found a line of %d baud, wanted at least %d for the sentences that %s asks for; fewer `sentences`, or a lower `rate`", role, address, n, b.NMEA.Needs(), plans[i].File)
			}
		}
	}
	if !fed {
		return wrongUse("--nmea %s=%s: no scenario here has a board %s with an input for NMEA 0183; the board's file says that it has one by `nmea: {}` (drystage lint --explain nmea)", role, address, role)
	}
	return nil
}

// openOutlets opens the ports of all plans, and tells of boards that are not ours and whose input stays silent.
func openOutlets(d *desk, seats *seating, plans []harness.Plan) (outlets, error) {
	open, told := outlets{}, map[string]bool{}
	for i := range plans {
		for _, b := range plans[i].Boards {
			at := b.NMEA.Port
			if kind, _, _ := strings.Cut(seats.of(b.Role), ":"); at == "" && b.NMEA.Rate > 0 && kind != "mock" && !told[b.Role] {
				told[b.Role] = true
				sayf(d.err, "drystage: nothing feeds the NMEA 0183 input of board %s; --nmea %s=ADDR would\n", b.Role, b.Role)
			}
			if at == "" || open[at] != nil {
				continue
			}
			l, err := d.open(at, b.NMEA.Baud)
			if err != nil {
				open.close()
				return nil, wrongUse("--nmea %s=%s can't be opened: %w", b.Role, at, err)
			}
			open[at] = receiver.New(l, at)
		}
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
			boards[i] = receiver.Wrap(boards[i], i, &p.Boards[i].NMEA, port, lockstep)
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
	text, sets := receiver.Text(&rec, bay)
	write := func(w io.Writer) error { _, err := w.Write(text); return err }
	if c.NMEA == "-" {
		return write(raw(d.out))
	}
	if err := whole(c.NMEA, write); err != nil {
		return status{misused, err}
	}
	_, err = sayf(d.out, "%s: %s of sentences of %s\n", c.NMEA, count(sets, "set"), rec.Plan.Setup.Bays[bay].Name)
	return err
}
