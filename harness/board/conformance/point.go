package conformance

import (
	"fmt"
	"strings"

	"drystage/harness"
	"drystage/harness/board/contract"
)

// Outcome is the result of a point. The zero value is Unsure.
type Outcome uint8

// The outcomes.
const (
	Unsure Outcome = iota
	Fail
	Pass
	NotClaimed // the board does not offer this capability; not a pass
)

// String gives the word that reports use.
func (o Outcome) String() string { return [...]string{"unsure", "fail", "pass", "not claimed"}[o] }

// Point is one promise of the contract, and what was observed.
type Point struct {
	Name     string
	Contract string // what the contract's table says, in its own words
	Spec     string // the section of SPEC.md
	Sent     string
	Came     string
	Why      string // a sentence; if the point did not pass, what to do next
	Outcome  Outcome
	Declared bool // NotClaimed, and the user has declared it missing
}

// Report is all points of one board, in the order in which they were tried.
type Report struct {
	Welcome contract.Welcome // of the first handshake; zero if there was none
	Greeted bool
	Points  []Point
	Latency Latency
	Rates   contract.Rates // announced in each HELLO
	Baud    int            // of the line; 0: it has none
}

// Answer is fail if any point fails, else unsure if any is unsure, or not claimed and not declared, else pass.
// Without any pass it is unsure.
func (r *Report) Answer() harness.Answer {
	worst := harness.Unsure
	if len(r.Points) > 0 {
		worst = harness.Pass
	}
	passed := 0
	for i := range r.Points {
		p := &r.Points[i]
		switch a := p.answer(); {
		case a == harness.Fail:
			return harness.Fail
		case a == harness.Unsure && !p.Declared:
			worst = harness.Unsure
		case a == harness.Pass:
			passed++
		}
	}
	if passed == 0 {
		return harness.Unsure
	}
	return worst
}

// says quotes the contract, with the place.
func (p *Point) says() string { return "SPEC.md " + p.Spec + ". " + p.Contract }

func (p *Point) answer() harness.Answer {
	switch p.Outcome {
	case Pass:
		return harness.Pass
	case Fail:
		return harness.Fail
	}
	return harness.Unsure
}

// Verdict gives the report in the form that the report formats take. Points that are not claimed are unsure and say
// so; those that the user declared missing are named in the title.
func (r *Report) Verdict(address string, seed uint32) harness.Verdict {
	v := harness.Verdict{Name: "contract", Title: r.title() + "; line use at " + r.LineUse(), Answer: r.Answer(), Seed: uint64(seed), File: address}
	for i := range r.Points {
		p := &r.Points[i]
		if p.Declared {
			continue
		}
		f := harness.Finding{Text: p.Name, Answer: p.answer(), Reason: p.Why, Wanted: p.says(),
			Seen: fmt.Sprintf("sent %s; came %s", p.Sent, p.Came)}
		if p.Outcome == NotClaimed {
			f.Reason = "not claimed: " + p.Why
		}
		v.Findings = append(v.Findings, f)
	}
	return v
}

// title names the board, and the points that were declared missing.
func (r *Report) title() string {
	t := fmt.Sprintf("the contract, version %d, in lockstep", contract.Version)
	if r.Greeted {
		t += fmt.Sprintf(", held against %q", contract.Text(r.Welcome.Name[:]))
	}
	var lacking []string
	for _, p := range r.Points {
		if p.Declared {
			lacking = append(lacking, p.Name)
		}
	}
	if len(lacking) > 0 {
		t += "; not claimed, as declared: " + strings.Join(lacking, "; ")
	}
	return t
}

// first gives the first point with an outcome, or nil. The first failure often causes the others.
func (r *Report) first(o Outcome) *Point {
	for i := range r.Points {
		if r.Points[i].Outcome == o {
			return &r.Points[i]
		}
	}
	return nil
}

// Count counts the points of an outcome.
func (r *Report) Count(o Outcome) (n int) {
	for _, p := range r.Points {
		if p.Outcome == o {
			n++
		}
	}
	return n
}
