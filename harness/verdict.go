package harness

import (
	"fmt"

	"drystage/sim"
)

// Answer is the result of a judgement. Its zero value is Unsure.
type Answer uint8

// The three answers.
const (
	Unsure Answer = iota
	Fail
	Pass
)

// String gives the word used in reports.
func (a Answer) String() string { return [...]string{"unsure", "fail", "pass"}[a] }

// severity orders answers, the worst first.
var severity = [...]int{Fail: 0, Unsure: 1, Pass: 2}

// Compare is negative when a is worse than b: fail is worse than unsure, and that is worse than pass.
func (a Answer) Compare(b Answer) int { return severity[a] - severity[b] }

// Count counts answers.
type Count struct{ Pass, Fail, Unsure int }

// Add counts one answer.
func (c *Count) Add(a Answer) {
	switch a {
	case Pass:
		c.Pass++
	case Fail:
		c.Fail++
	default:
		c.Unsure++
	}
}

// All is how many answers were counted.
func (c Count) All() int { return c.Pass + c.Fail + c.Unsure }

// Answer is that of all together: fail before unsure before pass. Without any it is unsure.
func (c Count) Answer() Answer {
	switch {
	case c.Fail > 0:
		return Fail
	case c.Unsure > 0, c.Pass == 0:
		return Unsure
	}
	return Pass
}

// String writes the counts in words.
func (c Count) String() string {
	return fmt.Sprintf("%d passed, %d failed, %d unsure", c.Pass, c.Fail, c.Unsure)
}

// Tally counts the answers of verdicts.
func Tally(vs []Verdict) (c Count) {
	for i := range vs {
		c.Add(vs[i].Answer)
	}
	return c
}

// Verdict is the judgement of a record against its plan.
type Verdict struct {
	Name, Title    string
	Answer         Answer    // fail if any finding fails, else unsure if any is unsure, else pass
	Findings       []Finding // one per expectation, then one per doubt about the run itself
	Boards         []Health
	BoardAddresses []BoardAddress // one per board of the plan
	Timing         Timing         // in real time
	Clocks         []BoardClock   // in real time, one per life of a board
	Seed           uint64
	File           string
	Digest         string
	Drawn          Drawn  // the flight of a sweep that it is of
	NotFlown       string // why not; empty: it was flown
	Warned         []Warned
}

// Warned is a warning of the flight in a verdict.
type Warned struct {
	Kind string // its word; empty for an unknown kind
	Text string // body, time, kind, value and limit
	// Outside: the flight left its model, which leaves the verdict unsure unless the scenario accepts it.
	Outside, Accepted bool
	Missing           bool // it is accepted, but did not occur
}

// String gives the warning and what follows from it.
func (w *Warned) String() string {
	switch {
	case w.Missing:
		return fmt.Sprintf("%s is accepted, and never came: take it out of `accepts`", w.Kind)
	case w.Accepted:
		return fmt.Sprintf("%s, accepted: %s", w.Kind, w.Text)
	}
	return w.Kind + ": " + w.Text
}

// NotFlown counts the verdicts without a flight.
func NotFlown(vs []Verdict) (n int) {
	for i := range vs {
		if vs[i].NotFlown != "" {
			n++
		}
	}
	return n
}

// BoardAddress is the address of the board of a role; empty if it isn't on record.
type BoardAddress struct{ Role, Address string }

// Finding is the answer to one expectation, or a doubt about the run.
type Finding struct {
	Text   string
	Place  Place
	Answer Answer
	Reason string // a sentence: what was wanted, what was seen, when

	// Margin is how far the observation is inside (positive) or outside (negative) its limit, in Unit. Share is the
	// same as a fraction of half the window, of the limit, or of one second for a time at which an output must be
	// off. HasMargin is false without a measured value.
	Margin    float64
	Unit      string
	Share     float64
	HasMargin bool

	Wanted string // the window or the limit, in numbers
	Seen   string // the observation, in numbers

	Danger Danger // of a failure; reports tell the greatest first
}

// Danger is what may come of an expectation that fails, on the field.
type Danger uint8

// The dangers, each greater than the one before it.
const (
	OfData        Danger = iota // a report or an answer that is off
	OfFlight                    // the flight isn't as it is meant
	OfNoFire                    // an output that must switch on doesn't, or not in time
	OfFiring                    // an output switches on that must be off, or not then
	OfFiringMotor               // the same, and it lights a motor
)

// Closest gives the finding with the smallest margin share; ok is false if none has a margin.
func (v *Verdict) Closest() (f Finding, ok bool) {
	for _, g := range v.Findings {
		if g.HasMargin && (!ok || g.Share < f.Share) {
			f, ok = g, true
		}
	}
	return f, ok
}

// Deciding gives the finding that decides a verdict: of those with the verdict's answer and, if that is a failure, with
// the greatest danger, the one with the smallest margin share, or else the first. ok is false for a pass without any
// margin, and if no finding has the verdict's answer.
func (v *Verdict) Deciding() (f Finding, ok bool) {
	var deciding Verdict
	worst := OfData
	for _, g := range v.Findings {
		if g.Answer != v.Answer {
			continue
		}
		if v.Answer == Fail && g.Danger > worst {
			worst, deciding.Findings = g.Danger, nil
		}
		if v.Answer != Fail || g.Danger == worst {
			deciding.Findings = append(deciding.Findings, g)
		}
	}
	if f, ok = deciding.Closest(); !ok && v.Answer != Pass && len(deciding.Findings) > 0 {
		return deciding.Findings[0], true
	}
	return f, ok
}

// Worst gives the answer of a whole suite: fail before unsure before pass. An empty suite is unsure.
func Worst(vs []Verdict) Answer { return Tally(vs).Answer() }

// Timing is the lateness of the frames of a real-time run. The zero value is lockstep.
type Timing struct {
	Pace
	Frames               int
	P50, P99, P999, Most sim.Time // of lateness
	Over                 int      // frames later than the limit
}
