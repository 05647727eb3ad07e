package verdict

import (
	"fmt"
	"math"

	"drystage/harness"
	"drystage/sim"
)

// never judges an output that has to stay off. Being on when the window opens fails, like switching on inside it. The
// answer is unsure if the window never opened, if a given bound of it is outside of the run, or if the quantity was
// never out of bounds. A bound that isn't given is the start or the end of the record.
func (j *judge) never(e *harness.Expectation, f *harness.Finding) {
	w := j.window(e)
	f.Wanted = "dark " + w.String() + while(e)
	f.Seen = "dark to " + j.end.String()
	switch {
	case w.noFrom != "":
		f.Reason = "the window never opened: " + j.missing(w.noFrom)
		return
	case w.empty():
		f.Reason = fmt.Sprintf("in this flight the window closes at %s, before it opens at %s", w.to, w.from)
		return
	}
	f.Answer = harness.Pass
	f.Reason = fmt.Sprintf("%s stayed dark", e.Output.Name)
	if on := j.onIntervals(e.Output); len(on) > 0 {
		*f = worst(on, func(l onInterval) harness.Finding { return j.judgeInterval(e, &w, l, f) })
	}
	if f.Answer != harness.Pass {
		return
	}
	switch {
	case w.noTo != "":
		f.Answer, f.Reason = harness.Unsure, "the window never closed: "+j.missing(w.noTo)
	case !j.covered(e.Output.Bay, w.to):
		f.Answer, f.Reason = harness.Unsure, f.Reason+", but "+j.endWord()+" before the window closed"
	default:
		j.checkNeverWindow(e, &w, f)
	}
}

// checkNeverWindow makes a pass unsure if the expectation could not have failed in this run.
func (j *judge) checkNeverWindow(e *harness.Expectation, w *window, f *harness.Finding) {
	if why := j.windowOutside(e, w); why != "" {
		f.Answer, f.Reason = harness.Unsure, why
		f.HasMargin = f.HasMargin && w.from <= j.end && w.to >= j.rec.Times[0]
		return
	}
	if e.Quantity == sim.NoQuantity || j.outOfBounds(e, w, j.rec.Times[0], j.end) {
		return
	}
	low, high, _ := j.rangeOf(e, max(j.rec.Times[0], w.from), min(j.end, w.to))
	u := units[e.Quantity]
	f.Answer, f.HasMargin = harness.Unsure, false
	f.Reason = fmt.Sprintf("nothing was tried: %s went from %s to %s here, and it is to be dark%s; change rail, wind, vehicle or faults so that it gets there, or drop this line",
		e.Quantity, u.show(low), u.show(high), while(e))
}

// while names the quantity that has to be out of bounds, if any.
func while(e *harness.Expectation) string {
	if e.Quantity == sim.NoQuantity {
		return ""
	}
	u, s := units[e.Quantity], ""
	if e.HasMost {
		s += fmt.Sprintf(" while %s is above %s", e.Quantity, u.show(e.Most))
	}
	if e.HasLeast {
		s += fmt.Sprintf(" while %s is below %s", e.Quantity, u.show(e.Least))
	}
	return s
}

// judgeInterval judges one on-interval.
func (j *judge) judgeInterval(e *harness.Expectation, w *window, l onInterval, f *harness.Finding) harness.Finding {
	g := harness.Finding{Text: f.Text, Place: f.Place, Danger: f.Danger, Wanted: f.Wanted, Seen: l.String()}
	possible := *w
	if w.noTo != "" {
		possible.to = sim.Never
	}
	if e.Quantity == sim.NoQuantity {
		g.Answer = compareWindow(w, &possible, &l)
		g.Margin, g.HasMargin = w.gap(&l)
		g.Share, g.Unit = g.Margin, second.sign // the length of the window says nothing about how close it was
	} else {
		j.judgeWhileOut(e, w, &possible, &l, &g)
	}
	g.Reason = fmt.Sprintf("%s was %s", e.Output.Name, l) + [...]string{
		harness.Unsure: ", too near to where it must be dark to tell",
		harness.Fail:   ", where it must be dark",
		harness.Pass:   ", clear of where it must be dark",
	}[g.Answer]
	return g
}

// compareWindow compares an on-interval with a window: w is the part that is certain, possible the largest that it may
// be.
func compareWindow(w, possible *window, l *onInterval) harness.Answer {
	switch {
	case w.overlaps(l.on.high(), l.off.low()), // certainly on inside
		w.contains(l.on.low(), l.on.high()), // a short pulse that certainly switched on inside
		!l.open && w.contains(l.off.low(), l.off.high()):
		return harness.Fail
	case possible.overlaps(l.on.low(), l.latestOn()):
		return harness.Unsure
	}
	return harness.Pass
}

// gap gives the gap in s between an on-interval and the window; it is negative if they overlap. There is none to an
// unknown bound.
func (w *window) gap(l *onInterval) (margin float64, ok bool) {
	gap := max(add(l.on.at, -w.to), add(w.from, -l.off.at))
	if size(gap) > sim.Never/2 || gap > 0 && w.noTo != "" {
		return 0, false
	}
	return gap.Seconds(), true
}

// judgeWhileOut judges an on-interval inside a window while a quantity is out of bounds.
func (j *judge) judgeWhileOut(e *harness.Expectation, w, possible *window, l *onInterval, g *harness.Finding) {
	lim := limitsOf(e)
	low, high, ok := j.rangeOf(e, l.on.low(), l.on.high())
	switch {
	case j.outOfBounds(e, w, l.on.high(), l.off.low()),
		ok && l.on.high() <= j.end && w.contains(l.on.low(), l.on.high()) && guard(lim.least, lim.most, low, high) == harness.Fail:
		g.Answer = harness.Fail
	case l.on.high() <= j.end && !j.outOfBounds(e, possible, l.on.low(), min(l.latestOn(), j.end)):
		g.Answer = harness.Pass
	}
	low, high, ok = j.rangeOf(e, max(l.on.at, w.from), min(l.off.at, w.to))
	if !ok {
		return
	}
	u := units[e.Quantity]
	y := high
	if low-lim.least < lim.most-high {
		y = low
	}
	g.Seen += fmt.Sprintf(", %s %s", e.Quantity, u.show(y))
	g.Margin, g.Share, g.HasMargin = lim.margin(y)
	g.Margin, g.Unit = g.Margin*u.factor, u.sign
	g.HasMargin = g.HasMargin && !math.IsInf(g.Margin, 0)
}

// outOfBounds says that a quantity is out of bounds at some instant of a window from a to b, as far as the record goes.
func (j *judge) outOfBounds(e *harness.Expectation, w *window, a, b sim.Time) bool {
	lim := limitsOf(e)
	low, high, ok := j.rangeOf(e, max(a, w.from), min(b, w.to))
	return ok && (low < lim.least || lim.most < high)
}
