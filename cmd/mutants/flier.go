package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"slices"
	"time"

	"drystage/harness"
	"drystage/harness/board/conformance"
	"drystage/harness/board/link"
	"drystage/harness/files/suite"
	"drystage/harness/judge/hazards"
	"drystage/harness/judge/verdict"
	"drystage/harness/run"
	"drystage/harness/setting"
)

// What a build with mutants sets. Without it this program flies nothing.
var (
	selectMutant func(n int)
	notedMutants func() []int
	newBoard     func() link.Device
)

// asked is a mutant to fly: in these scenarios, in this order, until one fails; if none does, the points of the contract
// are tried, if it differs in them. Mutant 0 flies all and tries all.
type asked struct {
	Mutant    int
	Scenarios []int
	Contract  bool
}

// told is what came of one flight.
type told struct {
	Scenario int
	Name     string
	Answer   string
	Finding  string   // the deciding one's text and reason
	Failed   []string // the texts of all findings that fail
	Hazards  hazards.Set
	Own      bool  // the scenario is none of the shipped suite, but the reference's own
	Differs  []int // without a mutant: the mutants that would have had another value in it, or done something else
	Crashed  bool  // the board's code ended itself, as Finding says
	Contract bool  // it was no flight: the points of the contract were tried; Name is that of the point that fails
	Last     bool  // of this mutant
}

// flier flies the shipped suite on a board with a mutant.
type flier struct {
	plans   []harness.Plan
	shipped int // so many of them; the rest is the reference's own
	bench   *run.Bench
	out     *json.Encoder
	tapes   [][]*tape                       // of the original, by scenario, then by board in the order in which they are opened
	tape    func(b link.Device) link.Device // records a board's tape; nil: it isn't kept
}

// flyAsked flies what is asked for, a line each, until there is no more: in the scenarios with these names, or in all of the
// shipped suite and then of the folder own; empty: none.
func flyAsked(in io.Reader, out io.Writer, own string, names []string) error {
	if selectMutant == nil {
		return errors.New("this program was built without mutants; `go run ./cmd/mutants` builds it with them")
	}
	f := flier{out: json.NewEncoder(out)}
	var err error
	if f.plans, f.shipped, err = plans(own, names); err != nil {
		return err
	}
	if f.bench, err = run.Open(context.Background(), run.Options{Jobs: 1, Link: f.open}, f.plans); err != nil {
		return err
	}
	defer f.bench.Close()
	for lines := json.NewDecoder(in); ; {
		var a asked
		if err := lines.Decode(&a); errors.Is(err, io.EOF) {
			return nil
		} else if err != nil {
			return err
		}
		if err := f.fly(a); err != nil {
			return err
		}
	}
}

// plans gives the scenarios with these names, or all: first the shipped ones, which are so many, then those of the folder own.
func plans(own string, names []string) (all []harness.Plan, shipped int, err error) {
	s, err := suite.Load(nil, io.Discard)
	if err != nil {
		return nil, 0, err
	}
	var rest suite.Suite
	if own != "" {
		if rest, err = suite.Load([]string{own}, io.Discard); err != nil {
			return nil, 0, err
		}
	}
	if len(names) > 0 {
		other := func(p harness.Plan) bool { return !slices.Contains(names, p.Name) }
		s.Plans, rest.Plans = slices.DeleteFunc(s.Plans, other), slices.DeleteFunc(rest.Plans, other)
		if n := len(s.Plans) + len(rest.Plans); n != len(names) {
			return nil, 0, fmt.Errorf("of the scenarios %q there are %d", names, n)
		}
	}
	all = slices.Concat(s.Plans, rest.Plans)
	inLockstep(all)
	return all, len(s.Plans), nil
}

// open opens a board.
func (f *flier) open(string) (link.Link, error) {
	b := newBoard()
	if f.tape != nil {
		b = f.tape(b)
	}
	return link.Memory(b), nil
}

// original flies all scenarios without a mutant and keeps the tapes.
func (f *flier) original() error {
	for i := range f.plans {
		var tapes []*tape
		judged := slices.ContainsFunc(f.plans[i].Expect, func(e harness.Expectation) bool { return e.Kind == harness.Reports })
		f.tape = func(b link.Device) link.Device {
			t := &tape{reports: judged}
			tapes = append(tapes, t)
			return &recorder{board: b, heard: newListener(), tape: t}
		}
		selectMutant(-1)
		t, err := f.flight(i)
		if err != nil {
			return err
		}
		f.tapes = append(f.tapes, tapes)
		t.Differs = notedMutants()
		if err := f.out.Encode(t); err != nil {
			return err
		}
	}
	f.tape = nil
	selectMutant(-1)
	t := tryContract()
	t.Differs = notedMutants()
	return f.out.Encode(t)
}

// fly tells of each flight of a mutant. Scenarios in which it answers as the original does are not flown.
func (f *flier) fly(a asked) error {
	if a.Mutant == 0 {
		return f.original()
	}
	selectMutant(a.Mutant)
	for _, i := range a.Scenarios {
		differs, err := f.differs(i)
		if err != nil {
			return f.out.Encode(told{Scenario: i, Name: f.plans[i].Name, Crashed: true, Finding: err.Error(), Last: true})
		}
		if !differs {
			if err := f.out.Encode(told{Scenario: i}); err != nil { // a sign of life
				return err
			}
			continue
		}
		t, err := f.flight(i)
		if err != nil {
			return err
		}
		t.Last = t.Answer == harness.Fail.String()
		if err := f.out.Encode(t); err != nil || t.Last {
			return err
		}
	}
	if a.Contract {
		return f.out.Encode(tryContract())
	}
	return f.out.Encode(told{Last: true})
}

// tryContract tries the points of the contract on a board, and gives the first that fails. The time of its answers is not
// judged: that would go by this computer's load.
func tryContract() (t told) {
	t = told{Contract: true, Last: true}
	defer func() {
		if p := recover(); p != nil {
			t.Crashed, t.Finding = true, fmt.Sprint(p)
		}
	}()
	channels := []harness.Setting{{Name: "staging_channel", Value: 1}, {Name: "drogue_channel", Value: 2}, {Name: "main_channel", Value: 3}}
	rep := conformance.Run(context.Background(), link.Memory(newBoard()),
		conformance.Options{Settings: channels, Known: setting.Builtin(), Now: func() time.Time { return time.Time{} }})
	for i := range rep.Points {
		if p := &rep.Points[i]; p.Outcome == conformance.Fail {
			t.Name, t.Answer, t.Finding, t.Failed = p.Name, harness.Fail.String(), p.Why, []string{p.Name}
			return t
		}
	}
	if t.Answer = rep.Answer().String(); rep.Answer() != harness.Pass {
		i := slices.IndexFunc(rep.Points, func(p conformance.Point) bool { return p.Outcome != conformance.Pass })
		t.Name, t.Finding = rep.Points[i].Name, rep.Points[i].Why
	}
	return t
}

// differs says that some board of a scenario answers otherwise than the original to what the original was given.
func (f *flier) differs(i int) (bool, error) {
	for _, t := range f.tapes[i] {
		if differs, err := t.play(newBoard()); differs || err != nil {
			return differs, err
		}
	}
	return false, nil
}

// flight flies one scenario.
func (f *flier) flight(i int) (t told, err error) {
	t = told{Scenario: i, Name: f.plans[i].Name, Own: i >= f.shipped}
	err = f.bench.Fly(context.Background(), f.plans[i:i+1], func(_ int, rec *harness.Record) error {
		v := verdict.Judge(rec)
		t.Answer, t.Hazards = v.Answer.String(), hazards.Of(rec, &v)
		if d, ok := v.Deciding(); ok {
			t.Finding = d.Text + ": " + d.Reason
		}
		for _, x := range v.Findings {
			if x.Answer == harness.Fail {
				t.Failed = append(t.Failed, x.Text)
			}
		}
		return nil
	})
	return t, err
}
