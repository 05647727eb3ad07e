package main

import (
	"fmt"
	"regexp"
	"strings"
	"time"

	"drystage/harness"
	"drystage/harness/board"
	"drystage/harness/board/mock"
	"drystage/harness/link"
	"drystage/sim"
)

// seating says at which address the board of each role is found.
type seating struct {
	all    string
	byRole map[string]string
	feeds  bool                   // --nmea opens a port beside the boards
	cuts   func(role string) bool // a rig really switches the board's supply; nil: there is none
}

var roleFirst = regexp.MustCompile(`^([A-Za-z][A-Za-z0-9_-]*)=(.+)$`)

// seat reads --board arguments, each ADDR or ROLE=ADDR.
func seat(args []string) (seating, error) {
	s := seating{all: "mock", byRole: map[string]string{}}
	for i, a := range args {
		if m := roleFirst.FindStringSubmatch(a); m != nil {
			s.byRole[m[1]] = m[2]
			continue
		}
		if i > 0 && s.all != "mock" {
			return s, wrongUse("two boards for every role: %s and %s; name a role as in --board sustainer=%s", s.all, a, a)
		}
		s.all = a
	}
	for _, a := range s.addresses() {
		if kind, defect, _ := strings.Cut(a, ":"); kind == "mock" {
			if _, err := mock.New(defect); err != nil {
				return s, status{misused, err}
			}
		} else if err := link.Check(a); err != nil {
			return s, wrongUse("%w, mock, mock:DEFECT", err)
		}
	}
	return s, nil
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

// open opens the boards of a plan, all or none; in real time when there is a clock.
func (s *seating) open(d *desk, p *harness.Plan, opt board.Options, clock func() sim.Time) ([]board.Board, error) {
	var boards []board.Board
	for i, b := range p.Boards {
		l, err := s.link(d, b)
		if err != nil {
			for _, o := range boards {
				o.Close()
			}
			return nil, fmt.Errorf("board %s: %w", b.Role, err)
		}
		if opt.Cut = s.cuts != nil && s.cuts(b.Role); opt.Cut {
			opt.Boot = time.Duration(p.Setup.Bays[i].Boot)
		}
		if clock != nil {
			boards = append(boards, board.NewTimed(l, b, &p.Setup.Bays[i], opt, clock))
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
	return link.Open(d.ctx, address, link.Options{Baud: b.Baud})
}
