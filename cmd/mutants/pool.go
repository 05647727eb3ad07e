package main

import (
	"bufio"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"os"
	"os/exec"
	"slices"
	"time"

	"drystage/harness/judge/hazards"
	"drystage/harness/judge/mutants"
)

// patience is how long a program may take for one flight, which usually takes some hundredths of a second; then the
// mutant has made the board run in circles.
const patience = 60 * time.Second

// campaign flies mutants with a program.
type campaign struct {
	*mutated
	ctx     context.Context
	names   []string // of the scenarios
	isOwn   []bool   // by scenario: it is the reference's own
	differs [][]bool // by scenario, then by mutant: it has another value somewhere, or does something else
	tried   []bool   // by mutant: it differs in the points of the contract

	shown *hazards.Matrix

	total []int                  // kills by scenario
	by    map[string]map[int]int // kills by function, then by scenario
}

// fly flies mutants and gives their results in the same order, and the hazards that they have shown.
func (p *mutated) fly(ctx context.Context, chosen []mutants.Mutant, notes io.Writer) ([]mutants.Result, *hazards.Matrix, error) {
	c := &campaign{mutated: p, ctx: ctx, by: map[string]map[int]int{}}
	w, err := c.start()
	if err != nil {
		return nil, nil, err
	}
	var results []mutants.Result
	for i := range chosen {
		if !p.until.IsZero() && time.Now().After(p.until) {
			fmt.Fprintf(notes, "time is up after %d of %d\n", i, len(chosen))
			break
		}
		var r mutants.Result
		if r, w, err = c.try(chosen[i], w); err != nil {
			return nil, nil, err
		}
		if results = append(results, r); !r.Killed() {
			fmt.Fprintf(notes, "%d/%d %s: %s\n", i+1, len(chosen), r.Outcome, r.Mutant.String())
		}
	}
	w.stop()
	return results, c.shown, nil
}

// original flies the suite without a mutant, which must pass, and notes which mutants differ in each scenario.
func (c *campaign) original(w *worker) error {
	var names []string
	var differs [][]bool
	var honest []hazards.Set
	var isOwn []bool
	err := w.ask(asked{}, func(t *told) error {
		if t.Answer != "pass" {
			return fmt.Errorf("%s is %s without a mutant: %s", t.Name, t.Answer, t.Finding)
		}
		is := make([]bool, len(c.schemata.Mutants)+1)
		for _, n := range t.Differs {
			is[n] = true
		}
		if t.Contract {
			c.tried = is
			return nil
		}
		names, isOwn, differs, honest = append(names, t.Name), append(isOwn, t.Own), append(differs, is), append(honest, t.Hazards)
		return nil
	})
	if c.names == nil {
		c.names, c.isOwn, c.differs, c.total, c.shown = names, isOwn, differs, make([]int, len(names)), hazards.New(names)
		for i, s := range honest {
			c.shown.SetHonest(i, s)
		}
	}
	return err
}

// order gives the scenarios in which a mutant differs: the shipped ones first, and of them those that have killed most others
// of its function.
func (c *campaign) order(m *mutants.Mutant) (out []int) {
	for s := range c.names {
		if c.differs[s][m.Number] {
			out = append(out, s)
		}
	}
	own := c.by[m.Func]
	slices.SortStableFunc(out, func(a, b int) int {
		if c.isOwn[a] != c.isOwn[b] {
			if c.isOwn[b] {
				return -1
			}
			return 1
		}
		if own[a] != own[b] {
			return own[b] - own[a]
		}
		return c.total[b] - c.total[a]
	})
	return out
}

// try flies a mutant until the first failure. w may be nil; another worker comes back if the mutant has ended it.
func (c *campaign) try(m mutants.Mutant, w *worker) (r mutants.Result, next *worker, err error) {
	r = mutants.Result{Mutant: m, Outcome: mutants.Survived}
	order := c.order(&m)
	if len(order) == 0 && !c.tried[m.Number] {
		r.Outcome = mutants.Idle
		return r, w, nil
	}
	if w == nil {
		if w, err = c.start(); err != nil {
			return r, nil, err
		}
	}
	began := time.Now()
	err = w.ask(asked{Mutant: m.Number, Scenarios: order, Contract: c.tried[m.Number]}, func(t *told) error {
		if t.Answer != "" && !t.Contract {
			r.Flights++
		}
		switch {
		case t.Contract && (t.Crashed || t.Answer == "fail"):
			r.Outcome, r.Scenario, r.Point, r.Finding, r.Failed = mutants.Killed, "", t.Name, t.Finding, t.Failed
		case t.Contract:
		case t.Crashed:
			r.Outcome, r.Scenario, r.Finding = mutants.Crashed, t.Name, t.Finding
		case t.Answer == "fail":
			r.Outcome, r.Scenario, r.Finding, r.Failed = mutants.Killed, t.Name, t.Finding, t.Failed
			r.Own = t.Own
			c.shown.Add(t.Scenario, fmt.Sprintf("mutant %s, %s: %s", m.Func, m.Kind, m.Was), t.Hazards)
		case t.Answer == "unsure" && r.Outcome == mutants.Survived:
			r.Outcome, r.Scenario, r.Finding = mutants.Unsure, t.Name, t.Finding
		}
		return nil
	})
	r.Seconds = time.Since(began).Seconds()
	if c.ctx.Err() != nil {
		w.stop()
		return r, nil, c.ctx.Err()
	}
	if err != nil {
		r.Outcome, r.Finding = mutants.Crashed, w.lastWords()
		if len(order) > 0 {
			r.Scenario = c.names[order[0]]
		}
		if w.late {
			r.Outcome, r.Finding = mutants.Hung, ""
		}
		w = nil
	}
	if r.Killed() {
		c.note(&r)
	}
	return r, w, nil
}

func (c *campaign) note(r *mutants.Result) {
	s := slices.Index(c.names, r.Scenario)
	if s < 0 { // a point of the contract
		return
	}
	c.total[s]++
	if c.by[r.Func] == nil {
		c.by[r.Func] = map[int]int{}
	}
	c.by[r.Func][s]++
}

// worker is a program that flies mutants.
type worker struct {
	cmd  *exec.Cmd
	in   io.WriteCloser
	out  *bufio.Scanner
	err  tail
	late bool // it has been ended for its silence
}

func (c *campaign) start() (*worker, error) {
	w := &worker{cmd: exec.CommandContext(c.ctx, c.program(), append([]string{"fly", c.own}, c.flown...)...)}
	w.cmd.Env = append(os.Environ(), "GOMAXPROCS=1", "GOGC=80")
	w.cmd.Stderr = &w.err
	out, err := w.cmd.StdoutPipe()
	if err == nil {
		w.in, err = w.cmd.StdinPipe()
	}
	if err == nil {
		err = w.cmd.Start()
	}
	if err != nil {
		return nil, err
	}
	w.out = bufio.NewScanner(out)
	w.out.Buffer(nil, 1<<24)
	return w, c.original(w)
}

// ask lets the program fly a mutant and hands over what it tells. An error means that the program is no more.
func (w *worker) ask(a asked, each func(*told) error) error {
	text, err := json.Marshal(a)
	if err != nil {
		return err
	}
	if _, err := w.in.Write(append(text, '\n')); err != nil {
		w.end()
		return err
	}
	for last := false; !last; {
		watch := time.AfterFunc(patience, func() { _ = w.cmd.Process.Kill() })
		more := w.out.Scan()
		w.late = !watch.Stop()
		var t told
		if !more {
			w.end()
			return fmt.Errorf("the program ended: %s", w.lastWords())
		}
		if err := json.Unmarshal(w.out.Bytes(), &t); err != nil {
			w.end()
			return err
		}
		if err := each(&t); err != nil {
			w.end()
			return err
		}
		last = t.Last
	}
	return nil
}

// stop ends a program that works.
func (w *worker) stop() {
	if w != nil {
		_ = w.in.Close()
		_ = w.cmd.Wait()
	}
}

func (w *worker) end() {
	_ = w.cmd.Process.Kill()
	_ = w.cmd.Wait()
}

func (w *worker) lastWords() string { return w.err.first() }

// tail keeps the beginning of what a program writes.
type tail struct{ text []byte }

func (t *tail) Write(b []byte) (int, error) {
	t.text = append(t.text, b[:min(len(b), 4096-len(t.text))]...)
	return len(b), nil
}

// first is the first line.
func (t *tail) first() string {
	for i, b := range t.text {
		if b == '\n' {
			return string(t.text[:i])
		}
	}
	return string(t.text)
}
