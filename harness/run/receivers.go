package run

import (
	"context"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"drystage/harness"
	"drystage/harness/board"
	"drystage/harness/board/link"
	"drystage/harness/board/receiver"
)

// assignPorts reads --nmea arguments, each ROLE=ADDR, and writes the addresses into the plans of boards that have such
// an input. It opens nothing.
func assignPorts(args []string, plans []harness.Plan) error {
	taken := map[string]string{}
	for _, a := range args {
		m := roleFirst.FindStringSubmatch(a)
		if m == nil {
			return harness.Errorf("--nmea %s: wanted ROLE=ADDR, such as sustainer=serial:/dev/ttyUSB1", a)
		}
		role, address := m[1], m[2]
		if err := receiver.Check(address); err != nil {
			return harness.Errorf("--nmea %s: %w", a, err)
		}
		for _, what := range []string{role, address} {
			if other, ok := taken[what]; ok {
				return harness.Errorf("--nmea %s and --nmea %s: wanted one address for each board, and one board for each address", other, a)
			}
			taken[what] = a
		}
		if err := assignPort(role, address, plans); err != nil {
			return err
		}
	}
	return nil
}

// assignPort gives all boards of a role their address.
func assignPort(role, address string, plans []harness.Plan) error {
	fed := false
	for i := range plans {
		for k := range plans[i].Boards {
			b := &plans[i].Boards[k]
			if b.Role != role || b.NMEA.Rate <= 0 {
				continue
			}
			fed, b.NMEA.Port = true, address
			if n := Baud(address); strings.HasPrefix(address, "serial:") && n < b.NMEA.Needs() {
				return harness.Errorf("--nmea %s=%s: found a line of %d baud, wanted at least %d for the sentences that %s asks for; fewer `sentences`, or a lower `rate`", role, address, n, b.NMEA.Needs(), plans[i].File)
			}
		}
	}
	if !fed {
		return harness.Errorf("--nmea %s=%s: no scenario here has a board %s with an input for NMEA 0183; the board's file says that it has one by `nmea: {}` (drystage explain nmea)", role, address, role)
	}
	return nil
}

// openPorts opens the ports of all plans' receivers, each once, and tells of boards that are not built in and whose
// input gets nothing.
func (b *Bench) openPorts(ctx context.Context, plans []harness.Plan) error {
	told := map[string]bool{}
	for i := range plans {
		for _, x := range plans[i].Boards {
			at := x.NMEA.Port
			if at == "" && x.NMEA.Rate > 0 && !builtIn(b.boards.of(x.Role)) && !told[x.Role] {
				told[x.Role] = true
				b.note("drystage: nothing feeds the NMEA 0183 input of board %s; --nmea %s=ADDR would", x.Role, x.Role)
			}
			if at == "" || b.ports[at] != nil {
				continue
			}
			l, err := b.dial(ctx, at, x.NMEA.Baud)
			if err != nil {
				return harness.Errorf("--nmea %s=%s can't be opened: %w", x.Role, at, err)
			}
			b.ports[at] = receiver.New(l, at)
		}
	}
	return nil
}

// receive lets the receivers of a plan's boards speak on their ports.
func (b *Bench) receive(p *harness.Plan, boards []board.Board) []board.Board {
	boards = slices.Clone(boards)
	for i := range boards {
		if port := b.ports[p.Boards[i].NMEA.Port]; port != nil {
			boards[i] = receiver.Wrap(boards[i], i, &p.Boards[i].NMEA, port, !b.opt.RealTime)
		}
	}
	return boards
}

// Baud gives the speed in the address of a serial port.
func Baud(address string) int {
	_, options, _ := strings.Cut(address, "?")
	values, _ := url.ParseQuery(options)
	if n, err := strconv.Atoi(values.Get("baud")); err == nil {
		return n
	}
	return link.DefaultBaud
}
