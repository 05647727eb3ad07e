package verdict

import (
	"fmt"
	"math"
	"sort"

	"drystage/harness"
	"drystage/sim"
)

// atFiring judges a quantity each time an output switches on. The uncertainty of the quantity is its change within the
// uncertainty of the time.
func (j *judge) atFiring(e *harness.Expectation, f *harness.Finding) {
	f.Wanted = e.Quantity.String() + " " + units[e.Quantity].within(limitsOf(e))
	j.eachTime(e, f, func(l onInterval) harness.Finding { return j.judgeAt(e, l.on, *f) })
}

// judgeAt judges the quantity at one switching on.
func (j *judge) judgeAt(e *harness.Expectation, on instant, f harness.Finding) harness.Finding {
	low, high, ok := j.rangeOf(e, on.low(), on.high())
	y, there := j.at(e, on.at)
	if !ok || !there || on.high() > j.end {
		f.Seen = "on at " + on.String()
		f.Reason = fmt.Sprintf("%s switched on at %s, where the record does not hold what it needs: it ends at %s", e.Output.Name, on, j.end)
		return f
	}
	measured(e, value{low, y, high}, &f)
	f.Reason = fmt.Sprintf("%s switched on at %s with %s", e.Output.Name, on, f.Seen)
	if f.Answer == harness.Unsure {
		f.Reason += ", too near to its limit to tell"
	}
	return f
}

// value is a measured quantity between low and high.
type value struct{ low, y, high float64 }

// measured judges a quantity against its limits.
func measured(e *harness.Expectation, v value, f *harness.Finding) {
	u, l := units[e.Quantity], limitsOf(e)
	f.Answer = guard(l.least, l.most, v.low, v.high)
	f.Margin, f.Share, f.HasMargin = l.margin(v.y)
	f.Margin, f.Unit = f.Margin*u.factor, u.sign
	f.Seen = e.Quantity.String() + " " + u.show(v.y)
	if v.high > v.low {
		f.Seen += " (" + u.show(v.low) + " to " + u.show(v.high) + ")"
	}
}

// atEvent judges a quantity just before an event. If the body has already landed by then, the answer is unsure.
func (j *judge) atEvent(e *harness.Expectation, f *harness.Finding) {
	f.Wanted = e.Quantity.String() + " " + units[e.Quantity].within(limitsOf(e))
	t, ok := sim.Anchor{Event: e.Event}.In(j.rec.Events)
	switch {
	case !ok:
		f.Reason = j.missing(e.Event)
		return
	case len(j.rec.Times) == 0 || t > j.end:
		f.Reason = fmt.Sprintf("the record ends at %s, before %s", j.end, e.Event)
		return
	}
	i := max(0, j.tick(t-1))
	if j.rec.State(i, e.Stage).Landed {
		f.Seen = "landed before " + e.Event
		name := j.rec.Plan.Setup.Vehicle.Stages[e.Stage].Name
		f.Reason = fmt.Sprintf("the body of %s had already landed before %s at %s; ask for %s.%s instead", name, e.Event, t, name, sim.StageLanding)
		return
	}
	measured(e, j.before(e, i, t), f)
	f.Reason = fmt.Sprintf("at %s, %s, %s was seen", e.Event, t, f.Seen)
}

// before gives the quantity at t, between tick i and the next. If the body hits the ground in between, the next tick
// can't be used: the value is that of tick i, with the extrapolated last change as uncertainty.
func (j *judge) before(e *harness.Expectation, i int, t sim.Time) value {
	y := e.Quantity.Of(j.rec.State(i, e.Stage))
	if i+1 >= len(j.rec.Times) || t <= j.rec.Times[i] {
		return value{y, y, y}
	}
	if !j.rec.State(i+1, e.Stage).Landed {
		y = j.interpolate(e, i, t)
		return value{y, y, y}
	}
	u := 0.0
	if i > 0 && j.rec.Times[i] > j.rec.Times[i-1] {
		part := (t - j.rec.Times[i]).Seconds() / (j.rec.Times[i] - j.rec.Times[i-1]).Seconds()
		u = math.Abs(y-e.Quantity.Of(j.rec.State(i-1, e.Stage))) * part
	}
	return value{y - u, y, y + u}
}

// tick is the last tick at or before t, or -1.
func (j *judge) tick(t sim.Time) int {
	return sort.Search(len(j.rec.Times), func(i int) bool { return j.rec.Times[i] > t }) - 1
}

// at gives the quantity at t by linear interpolation between ticks. Before the first tick it is that of the first tick,
// since the rocket stands on its pad. After the last one it isn't known.
func (j *judge) at(e *harness.Expectation, t sim.Time) (y float64, ok bool) {
	if len(j.rec.Times) == 0 || t > j.end {
		return 0, false
	}
	i := max(0, j.tick(t))
	if i+1 == len(j.rec.Times) || t <= j.rec.Times[i] {
		return e.Quantity.Of(j.rec.State(i, e.Stage)), true
	}
	return j.interpolate(e, i, t), true
}

// interpolate interpolates between tick i and the next.
func (j *judge) interpolate(e *harness.Expectation, i int, t sim.Time) float64 {
	a, b := e.Quantity.Of(j.rec.State(i, e.Stage)), e.Quantity.Of(j.rec.State(i+1, e.Stage))
	part := (t - j.rec.Times[i]).Seconds() / (j.rec.Times[i+1] - j.rec.Times[i]).Seconds()
	return a + (b-a)*part
}

// rangeOf gives the least and the greatest value of the quantity from a to b, within the record; ok is false if the
// record holds nothing of it.
func (j *judge) rangeOf(e *harness.Expectation, a, b sim.Time) (low, high float64, ok bool) {
	low, ok = j.at(e, a)
	if !ok || b < a {
		return 0, 0, false
	}
	high = low
	if last, ok := j.at(e, min(b, j.end)); ok {
		low, high = min(low, last), max(high, last)
	}
	for i := j.tick(a) + 1; i < len(j.rec.Times) && j.rec.Times[i] <= b; i++ {
		y := e.Quantity.Of(j.rec.State(i, e.Stage))
		low, high = min(low, y), max(high, y)
	}
	return low, high, true
}
