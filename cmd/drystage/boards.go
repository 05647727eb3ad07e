package main

import (
	"regexp"
	"slices"
	"strings"
	"sync"
	"time"

	"drystage/harness"
	"drystage/harness/board"
	"drystage/harness/board/link"
	"drystage/harness/board/mock"
	"drystage/harness/spelling"
	"drystage/sim"
)

// seating says at which address the board of each role is found.
type seating struct {
	all    string
	given  bool // all was named by the user
	byRole map[string]string
	feeds  bool                   // --nmea opens a port beside the boards
	cuts   func(role string) bool // a rig really switches the board's supply; nil: there is none
}

var roleFirst = regexp.MustCompile(`^([A-Za-z][A-Za-z0-9_-]*)=(.*)$`)

// seat reads --board arguments, each ADDR or ROLE=ADDR, for boards of some roles. An argument that seats no board
// is wrong use: another board would fly in its place.
func seat(args []string, roles []string) (seating, error) {
	s := seating{all: "mock", byRole: map[string]string{}}
	for _, a := range args {
		role, address := "", a
		if m := roleFirst.FindStringSubmatch(a); m != nil {
			role, address = m[1], m[2]
		}
		if err := checkAddress(address); err != nil {
			return s, err
		}
		if err := s.put(role, address, roles); err != nil {
			return s, err
		}
	}
	if s.given && len(roles) > 0 && !slices.ContainsFunc(roles, func(r string) bool { return s.byRole[r] == "" }) {
		return s, wrongUse("--board %s seats no board: each of %s has an address of its own; leave it out", s.all, strings.Join(roles, ", "))
	}
	return s, nil
}

// put notes one address; role is empty for all roles.
func (s *seating) put(role, address string, roles []string) error {
	switch other, twice := s.byRole[role]; {
	case role == "" && s.given:
		return wrongUse("two boards for every role: %s and %s; name a role as in --board %s=%s", s.all, address, roles[len(roles)-1], address)
	case role == "":
		s.all, s.given = address, true
	case !slices.Contains(roles, role):
		return wrongUse("--board %s=%s: found no board %s, wanted one of %s%s", role, address, role, strings.Join(roles, ", "), near(role, roles))
	case twice:
		return wrongUse("two boards for %s: %s and %s; wanted one", role, other, address)
	default:
		s.byRole[role] = address
	}
	return nil
}

// near is a hint with the nearest word, for the end of an error; empty without one.
func near(wrong string, words []string) string {
	if h := spelling.Hint(strings.ToLower(wrong), words); h != "" {
		return "; " + h
	}
	return ""
}

func checkAddress(a string) error {
	if kind, defect, _ := strings.Cut(a, ":"); kind == "mock" {
		if _, err := mock.New(defect); err != nil {
			return status{misused, err}
		}
	} else if err := link.Check(a); err != nil {
		return wrongUse("%w, mock, mock:DEFECT", err)
	}
	return nil
}

// rolesOf lists the roles of all boards of plans, each once.
func rolesOf(plans []harness.Plan) (roles []string) {
	for i := range plans {
		for _, b := range plans[i].Boards {
			if !slices.Contains(roles, b.Role) {
				roles = append(roles, b.Role)
			}
		}
	}
	return roles
}

// list tells where the boards of plans are.
func (s *seating) list(plans []harness.Plan) (out []harness.BoardAddress) {
	for _, role := range rolesOf(plans) {
		out = append(out, harness.BoardAddress{Role: role, Address: s.of(role)})
	}
	return out
}

func (s *seating) addresses() []string {
	out := []string{s.all}
	for _, a := range s.byRole {
		out = append(out, a)
	}
	return out
}

func (s *seating) of(role string) string {
	if a, ok := s.byRole[role]; ok {
		return a
	}
	return s.all
}

// real says that some board may have real outputs.
func (s *seating) real() bool {
	if s.feeds {
		return true
	}
	for _, a := range s.addresses() {
		if kind, _, _ := strings.Cut(a, ":"); kind != "mock" && kind != "exec" {
			return true
		}
	}
	return false
}

// host watches how busy this computer is, from the first board on that is not in this process.
var host = sync.OnceValue(board.WatchHostLatency)

// outside says that some board is not in this process.
func (s *seating) outside() bool {
	return slices.ContainsFunc(s.addresses(), func(a string) bool { return a != "mock" && !strings.HasPrefix(a, "mock:") })
}

// open opens the boards of a plan, all or none; in real time when there is a clock.
func (s *seating) open(d *desk, p *harness.Plan, opt board.Options, clock func() sim.Time) ([]board.Board, error) {
	var boards []board.Board
	if s.outside() {
		opt.HostLatency = host().Worst
	}
	for i, b := range p.Boards {
		l, err := s.link(d, b)
		if err != nil {
			for _, o := range boards {
				o.Close()
			}
			return nil, errorf("board %s: %w", b.Role, err)
		}
		if opt.SupplySwitched = s.cuts != nil && s.cuts(b.Role); opt.SupplySwitched {
			opt.Boot = time.Duration(p.Setup.Bays[i].Boot)
		}
		if clock != nil {
			boards = append(boards, board.NewRealTime(l, b, &p.Setup.Bays[i], opt, clock))
			continue
		}
		boards = append(boards, board.NewClient(l, b, &p.Setup.Bays[i], opt))
	}
	return boards, nil
}

func (s *seating) link(d *desk, b harness.Board) (link.Link, error) {
	address := s.of(b.Role)
	if kind, defect, _ := strings.Cut(address, ":"); kind == "mock" {
		g, err := mock.New(defect)
		if err != nil {
			return nil, err
		}
		return link.Memory(g), nil
	}
	return d.open(address, b.Baud)
}
