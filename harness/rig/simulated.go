package rig

import (
	"os"
	"slices"
	"sync"
	"time"

	"drystage/harness"
)

// simulated is a computer without pins. Loopback drives move the pins that they are wired to. A file shows the level
// of each drive pin to other processes, and lets the guard act.
type simulated struct {
	mu    sync.Mutex
	lines map[string]*line
	wires map[string]string // from the pin of a loopback drive to the pin that it is wired to
	order []string          // of the drive pins in the state file
	state *os.File
}

// line is a simulated pin.
type line struct {
	level bool
	edges chan levelChange // as in a kernel's queue; an edge without a time gets the time of the wait's end
}

const queueSize = 64

func simulate(spec *harness.Rig) (*simulated, error) {
	s := &simulated{lines: map[string]*line{}, wires: map[string]string{}}
	for _, d := range spec.Drives {
		s.order = append(s.order, d.Name)
		if d.Does == harness.DriveLoopback {
			s.wires[d.Name] = spec.Board(d.Role).Output(d.Output).Capture.Name
		}
	}
	if spec.State == "" {
		return s, nil
	}
	var err error
	s.state, err = openState(spec)
	return s, err
}

func (s *simulated) line(name string) *line {
	l := s.lines[name]
	if l == nil {
		l = &line{edges: make(chan levelChange, queueSize)}
		s.lines[name] = l
	}
	return l
}

func (s *simulated) input(p harness.Pin) (input, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	l := s.line(p.Name)
	l.level = level(p, false)
	for len(l.edges) > 0 { // earlier edges
		<-l.edges
	}
	return simulatedInput{s, l}, nil
}

func (s *simulated) output(name string, level bool) (output, error) {
	out := simulatedOutput{s, name}
	return out, out.set(level)
}

// move sets a pin, and the pins that it is wired to, to a level.
func (s *simulated) move(name string, level bool) {
	s.mu.Lock()
	defer s.mu.Unlock()
	for ; name != ""; name = s.wires[name] {
		l := s.line(name)
		if l.level == level {
			continue
		}
		l.level = level
		select {
		case l.edges <- levelChange{level: level}:
		default: // the queue is full, as a kernel's may be; the level is read later
		}
	}
}

// bounce sets a pin to a level, after 5 ms of bouncing.
func (s *simulated) bounce(name string, level bool) {
	const touches, apart = 11, 500 * time.Microsecond
	s.mu.Lock()
	defer s.mu.Unlock()
	l := s.line(name)
	first := time.Now().Add(-touches * apart)
	for i := range touches {
		select {
		case l.edges <- levelChange{first.Add(time.Duration(i) * apart), level == (i%2 == 0)}:
		default:
		}
	}
	l.level = level
}

func (s *simulated) close() error {
	if s.state == nil {
		return nil
	}
	return s.state.Close()
}

type simulatedInput struct {
	s *simulated
	l *line
}

func (i simulatedInput) read() bool {
	i.s.mu.Lock()
	defer i.s.mu.Unlock()
	return i.l.level
}

func (i simulatedInput) wait(timeout time.Duration) (levelChange, bool) {
	t := time.NewTimer(max(timeout, shortestWait))
	defer t.Stop()
	select {
	case c := <-i.l.edges:
		if c.at.IsZero() {
			c.at = time.Now()
		}
		return c, true
	case <-t.C:
		return levelChange{}, false
	}
}

func (i simulatedInput) close() error { return nil }

type simulatedOutput struct {
	s    *simulated
	name string
}

func (o simulatedOutput) set(level bool) error {
	o.s.move(o.name, level)
	if o.s.state == nil {
		return nil
	}
	return writePin(o.s.state, slices.Index(o.s.order, o.name), o.name, level)
}
