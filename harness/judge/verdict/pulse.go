package verdict

import (
	"fmt"
	"math"

	"drystage/harness"
	"drystage/sim"
)

// once judges that an output switches on at most once. A count has no margin.
func (j *judge) once(e *harness.Expectation, f *harness.Finding) {
	n := len(j.onIntervals(e.Output))
	f.Wanted, f.Seen = "on at most once", fmt.Sprintf("on %s", times(n))
	f.Reason = fmt.Sprintf("%s switched on %s", e.Output.Name, times(n))
	switch {
	case n > 1:
		f.Answer = harness.Fail
	case j.rec.Complete():
		f.Answer = harness.Pass
	default:
		f.Reason += ", but " + j.endWord()
	}
}

func times(n int) string {
	switch n {
	case 0:
		return "never"
	case 1:
		return "once"
	}
	return fmt.Sprintf("%d times", n)
}

// pulse judges how long an output stays on, each time.
func (j *judge) pulse(e *harness.Expectation, f *harness.Finding) {
	f.Wanted = "on for " + second.within(limitsOf(e))
	j.eachTime(e, f, func(l onInterval) harness.Finding { return j.length(e, l, *f) })
}

// eachTime judges each time an output was on; the worst one decides. If it was never on, there is nothing to measure:
// unsure.
func (j *judge) eachTime(e *harness.Expectation, f *harness.Finding, one func(onInterval) harness.Finding) {
	on := j.onIntervals(e.Output)
	if len(on) == 0 {
		j.unmeasured(e.Output, f)
		return
	}
	*f = worst(on, one)
	if f.Answer == harness.Pass && !j.rec.Complete() {
		f.Answer = harness.Unsure
		f.Reason += ", but " + j.endWord() + ", so that it may have switched on again"
	}
}

// unmeasured makes a finding unsure because an output never switched on.
func (j *judge) unmeasured(c harness.Channel, f *harness.Finding) {
	f.Seen = c.Name + " dark to " + j.end.String()
	f.Reason = fmt.Sprintf("%s never switched on, so that there is nothing to measure; %s", c.Name, j.endWord())
}

// length judges one pulse. A pulse that was still on at the end of the record is at least that long.
func (j *judge) length(e *harness.Expectation, l onInterval, f harness.Finding) harness.Finding {
	least, most := timeLimits(e)
	d := l.off.since(l.on)
	high := d.high()
	f.Seen = "on for " + d.String()
	if l.open {
		f.Seen, high = "on for more than "+d.String(), sim.Never
	}
	f.Answer = guard(least, most, d.low(), high)
	f.Margin, f.Share, f.HasMargin = timeLimitsOf(least, most).margin(d.at.Seconds())
	f.Unit = second.sign
	f.Reason = fmt.Sprintf("%s was %s", e.Output.Name, l)
	if f.Answer == harness.Unsure {
		f.Reason += "; that does not say on which side of its limit the length lies"
	}
	return f
}

// timeLimitsOf gives limits of a time in seconds, so that margin and answer use the same nanoseconds.
func timeLimitsOf(least, most sim.Time) limits {
	l := limits{math.Inf(-1), math.Inf(1)}
	if least > -sim.Never {
		l.least = least.Seconds()
	}
	if most < sim.Never {
		l.most = most.Seconds()
	}
	return l
}

// timeLimits gives the limits of a length of time in nanoseconds.
func timeLimits(e *harness.Expectation) (least, most sim.Time) {
	l := limitsOf(e)
	return seconds(l.least), seconds(l.most)
}
