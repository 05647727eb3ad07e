// Package verdict judges a record against its plan. Each expectation passes, fails or is unsure, with a reason and a
// margin. Every doubt about the run itself is a finding too.
//
// A measured value counts with its whole uncertainty: it passes only if its whole range is inside the limits, and fails
// only if its whole range is outside. What is missing in a record proves something only if the record is complete. The
// package reads no clock and no file, doesn't change the record, and never answers pass for what was not observed.
package verdict

import (
	"slices"

	"drystage/harness"
	"drystage/sim"
)

// Judge gives the verdict on a record: a finding per expectation, in the order of the plan, then one per doubt about the
// run, then the findings of others about the record, such as an audit. Equal records give equal verdicts, and a
// malformed record gives an unsure one.
func Judge(rec *harness.Record, others ...harness.Finding) harness.Verdict {
	return judged(rec, rec.Flaw(), others)
}

// JudgeFlown judges as Judge does, in less time: the record was flown in this process, where its numbers were checked.
func JudgeFlown(rec *harness.Record) harness.Verdict { return judged(rec, rec.FlawOfFlown(), nil) }

func judged(rec *harness.Record, flaw string, others []harness.Finding) harness.Verdict {
	p := &rec.Plan
	v := harness.Verdict{
		Name: p.Name, Title: p.Title, Seed: p.Setup.Seed, File: p.File, Digest: p.Digest, Drawn: p.Drawn,
		Boards: slices.Clone(rec.Health), Timing: timing(rec), Clocks: slices.Clone(rec.Clocks),
	}
	for i, b := range p.Boards {
		s := harness.BoardAddress{Role: b.Role}
		if i < len(rec.Made.Boards) {
			s.Address = rec.Made.Boards[i]
		}
		v.BoardAddresses = append(v.BoardAddresses, s)
	}
	j := newJudge(rec, flaw)
	for i := range p.Expect {
		v.Findings = append(v.Findings, j.find(&p.Expect[i]))
	}
	v.Findings = append(v.Findings, j.judgeConflicts()...)
	v.Warned = j.warned()
	v.Findings = append(append(v.Findings, j.doubts()...), outsideModel(v.Warned, p.File)...)
	v.Findings = append(v.Findings, others...)
	v.Answer = overall(v.Findings)
	return v
}

// judge holds what all judgements of one record need.
type judge struct {
	rec  *harness.Record
	end  sim.Time // of the last tick
	flaw string   // why the record is malformed; else empty
}

func newJudge(rec *harness.Record, flaw string) *judge {
	j := &judge{rec: rec, flaw: flaw}
	if n := len(rec.Times); n > 0 {
		j.end = rec.Times[n-1]
	}
	return j
}

// find judges one expectation.
func (j *judge) find(e *harness.Expectation) harness.Finding {
	f := harness.Finding{Text: e.Text, Place: e.Place, Danger: danger(e, &j.rec.Plan.Setup)}
	if j.flaw != "" {
		f.Reason = "the record is malformed: " + j.flaw
		return f
	}
	if why := j.notJudgeable(e); why != "" {
		f.Reason = "the expectation can't be judged: " + why
		return f
	}
	switch e.Kind {
	case harness.Fires:
		j.fires(e, &f)
	case harness.Never:
		j.never(e, &f)
	case harness.Once:
		j.once(e, &f)
	case harness.Pulse:
		j.pulse(e, &f)
	case harness.Order:
		j.order(e, &f)
	case harness.AtFiring:
		j.atFiring(e, &f)
	case harness.AtEvent:
		j.atEvent(e, &f)
	case harness.Reports:
		if e.Report == harness.ApogeeHeight {
			j.reports(e, &f)
		} else {
			j.estimates(e, &f)
		}
	case harness.Alive:
		j.alive(e, &f)
	case harness.Happens:
		j.happens(e, &f)
	case harness.Reaction:
		j.reaction(e, &f)
	}
	j.checkUnmeasured(e, &f)
	return f
}

// overall is fail if any finding fails, else unsure if any is unsure or there is none, else pass.
func overall(fs []harness.Finding) harness.Answer {
	if len(fs) == 0 {
		return harness.Unsure
	}
	answer := harness.Pass
	for _, f := range fs {
		answer = worse(answer, f.Answer)
	}
	return answer
}

// worse gives the answer of two requirements together.
func worse(a, b harness.Answer) harness.Answer {
	switch {
	case a == harness.Fail || b == harness.Fail:
		return harness.Fail
	case a == harness.Pass && b == harness.Pass:
		return harness.Pass
	}
	return harness.Unsure
}

// worst judges each on-interval, at least one, and gives the deciding finding: the worst answer, and of equal answers the
// smallest margin.
func worst(on []onInterval, judge func(onInterval) harness.Finding) harness.Finding {
	f := judge(on[0])
	for _, l := range on[1:] {
		g := judge(l)
		switch {
		case g.Answer != f.Answer:
			if worse(g.Answer, f.Answer) == g.Answer {
				f = g
			}
		case g.HasMargin && (!f.HasMargin || g.Share < f.Share):
			f = g
		}
	}
	return f
}
