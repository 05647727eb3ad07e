package verdict

import (
	"fmt"
	"math"

	"drystage/harness"
	"drystage/sim"
)

// never judges an output that has to stay dark. Being on when the window opens is as bad as switching
// on inside it. Dark is proven only where it was looked at: a window that never opened, or of which a
// written bound lies outside the run, is unsure, and so is a quantity that never was out of bounds. A bound
// that is left open is where the record begins or ends.
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
	if lights := j.lights(e.Output); len(lights) > 0 {
		*f = worst(lights, func(l light) harness.Finding { return j.judged(e, &w, l, f) })
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
		j.tried(e, &w, f)
	}
}

// tried takes back the pass of an expectation that this run could not have failed.
func (j *judge) tried(e *harness.Expectation, w *window, f *harness.Finding) {
	if why := j.outside(e, w); why != "" {
		f.Answer, f.Reason = harness.Unsure, why
		f.HasMargin = f.HasMargin && w.from <= j.end && w.to >= j.rec.Times[0]
		return
	}
	if e.Quantity == sim.NoQuantity || j.out(e, w, j.rec.Times[0], j.end) {
		return
	}
	low, high, _ := j.over(e, max(j.rec.Times[0], w.from), min(j.end, w.to))
	u := units[e.Quantity]
	f.Answer, f.HasMargin = harness.Unsure, false
	f.Reason = fmt.Sprintf("nothing was tried: %s went from %s to %s here, and it is to be dark%s; change rail, wind, vehicle or faults so that it gets there, or drop this line",
		e.Quantity, u.show(low), u.show(high), while(e))
}

// while says which quantity has to be out of bounds, if any.
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

// judged judges one stretch of being on.
func (j *judge) judged(e *harness.Expectation, w *window, l light, f *harness.Finding) harness.Finding {
	g := harness.Finding{Text: f.Text, Place: f.Place, Wanted: f.Wanted, Seen: l.String()}
	may := *w
	if w.noTo != "" {
		may.to = sim.Never
	}
	if e.Quantity == sim.NoQuantity {
		g.Answer = plain(w, &may, &l)
		g.Margin, g.HasMargin = w.clear(&l)
		g.Share, g.Unit = g.Margin, second.sign // how long it has to be dark says nothing of how close it was
	} else {
		j.bounded(e, w, &may, &l, &g)
	}
	g.Reason = fmt.Sprintf("%s was %s", e.Output.Name, l) + [...]string{
		harness.Unsure: ", too near to where it must be dark to tell",
		harness.Fail:   ", where it must be dark",
		harness.Pass:   ", clear of where it must be dark",
	}[g.Answer]
	return g
}

// plain compares a stretch of being on with a window: w is the part that is certain, may the most it
// can be.
func plain(w, may *window, l *light) harness.Answer {
	switch {
	case w.meets(l.on.high(), l.off.low()), // surely on inside
		w.holds(l.on.low(), l.on.high()), // a short pulse: surely switched on inside
		!l.open && w.holds(l.off.low(), l.off.high()):
		return harness.Fail
	case may.meets(l.on.low(), l.latest()):
		return harness.Unsure
	}
	return harness.Pass
}

// clear gives the gap in s between a stretch of being on and the window: the least shift that makes them
// touch, or if negative part. There is none to a bound that is not known.
func (w *window) clear(l *light) (margin float64, ok bool) {
	gap := max(add(l.on.at, -w.to), add(w.from, -l.off.at))
	if size(gap) > sim.Never/2 || gap > 0 && w.noTo != "" {
		return 0, false
	}
	return gap.Seconds(), true
}

// bounded judges a stretch of being on inside a window while a quantity is out of bounds.
func (j *judge) bounded(e *harness.Expectation, w, may *window, l *light, g *harness.Finding) {
	lim := limitsOf(e)
	low, high, ok := j.over(e, l.on.low(), l.on.high())
	switch {
	case j.out(e, w, l.on.high(), l.off.low()),
		ok && l.on.high() <= j.end && w.holds(l.on.low(), l.on.high()) && guard(lim.least, lim.most, low, high) == harness.Fail:
		g.Answer = harness.Fail
	case l.on.high() <= j.end && !j.out(e, may, l.on.low(), min(l.latest(), j.end)):
		g.Answer = harness.Pass
	}
	low, high, ok = j.over(e, max(l.on.at, w.from), min(l.off.at, w.to))
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

// out says that a quantity is out of bounds at some instant of a window from a to b, as far as the record goes.
func (j *judge) out(e *harness.Expectation, w *window, a, b sim.Time) bool {
	lim := limitsOf(e)
	low, high, ok := j.over(e, max(a, w.from), min(b, w.to))
	return ok && (low < lim.least || lim.most < high)
}
