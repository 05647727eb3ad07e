package verdict_test

import (
	"math"
	"testing"

	"drystage/harness"
	"drystage/sim"

	"github.com/stretchr/testify/assert"
	"pgregory.net/rapid"
)

func TestNever(t *testing.T) {
	ever := never()
	until := never() // up to apogee, 10 s
	until.To, until.HasTo = at("apogee", 0), true
	after := never() // from 8 s
	after.From, after.HasFrom = at("apogee", s(-2)), true
	inside := never() // 3 to 8 s
	inside.From, inside.HasFrom, inside.To, inside.HasTo = at("sustainer.burnout", 0), true, at("apogee", s(-2)), true
	unopened := never()
	unopened.From, unopened.HasFrom = at("booster.burnout", 0), true
	unclosed := never()
	unclosed.To, unclosed.HasTo = at("booster.burnout", 0), true
	soon := never() // up to 2 s before an event
	soon.To, soon.HasTo = at("booster.burnout", s(-2)), true
	turned := never()
	turned.From, turned.HasFrom, turned.To, turned.HasTo = at("apogee", 0), true, at("liftoff", 0), true
	maxq := never()
	maxq.To, maxq.HasTo = at("max_q", 0), true
	none := math.NaN() // no margin
	opens := func(from sim.Anchor) harness.Expectation {
		e := never()
		e.From, e.HasFrom = from, true
		return e
	}
	closes := func(to sim.Anchor) harness.Expectation { e := never(); e.To, e.HasTo = to, true; return e }
	window := func(from, to sim.Anchor) harness.Expectation {
		e := closes(to)
		e.From, e.HasFrom = from, true
		return e
	}
	limited := flight(opens(at("landing", s(3000))))
	limited.Plan.Setup.Limit = s(600)
	for _, c := range []struct {
		reason string
		rec    *harness.Record
		want   harness.Answer
		margin float64
		says   string
	}{
		{"dark to the end", flight(ever), harness.Pass, none, "stayed dark"},
		{"lit once", lit(flight(ever), drogue, s(5), s(6), ms), harness.Fail, none, "where it must be dark"},
		{"lit for less than its uncertainty", lit(flight(ever), drogue, s(5), s(5)+1, ms), harness.Fail, none, "where it must be dark"},
		{"dark in a record that is cut short", cut(flight(ever), s(12)), harness.Unsure, none, "cut short at 12.000 s"},
		{"lit in a record that is cut short", cut(lit(flight(ever), drogue, s(5), 0, ms), s(12)), harness.Fail, none, "where it must be dark"},
		{"lit after the window", lit(flight(until), drogue, s(12), 0, ms), harness.Pass, 2, "clear of"},
		{"lit inside the window", lit(flight(until), drogue, s(7), s(8), ms), harness.Fail, -3, "where it must be dark"},
		{"lit at the bound", lit(flight(until), drogue, s(10)+ms/2, 0, ms), harness.Unsure, 0.0005, "too near"},
		{"lit at the bound, known exactly: it belongs to the window", lit(flight(until), drogue, s(10), 0, 0), harness.Fail, 0, "where"},
		{"lit one nanosecond after the bound", lit(flight(until), drogue, s(10)+1, 0, 0), harness.Pass, 1e-9, "clear"},
		{"off before the window", lit(flight(after), drogue, s(5), s(7), ms), harness.Pass, 1, "clear of"},
		{"still on as the window opens", lit(flight(after), drogue, s(5), s(9), ms), harness.Fail, -1, "where it must be dark"},
		{"never off", lit(flight(after), drogue, s(5), 0, ms), harness.Fail, -12, "still on at 20.000 s"},
		{"on across the whole window", lit(flight(inside), drogue, s(2), s(9), ms), harness.Fail, -6, "where it must be dark"},
		{"between two windows' worth of light", lit(lit(flight(inside), drogue, s(1), s(2), ms), drogue, s(9), s(10), ms), harness.Pass, 1, "clear of"},
		{"the worst stretch counts", lit(lit(flight(inside), drogue, s(1), s(2), ms), drogue, s(7), s(10), ms), harness.Fail, -1, "where it must be dark"},
		{"off within its uncertainty of the opening", lit(flight(after), drogue, s(5), s(8)-ms, 2*ms), harness.Unsure, 0.001, "too near"},
		{"cut after the window", cut(flight(inside), s(10)), harness.Pass, none, "stayed dark"},
		{"cut inside the window", cut(flight(inside), s(9)), harness.Unsure, none, "had not happened"},
		{"the window never opened: not tested", flight(unopened), harness.Unsure, none, "never opened"},
		{"the window never closed", flight(unclosed), harness.Unsure, none, "never closed"},
		{"lit before an event that had not come", cut(lit(flight(unclosed), drogue, s(5), s(6), ms), s(12)), harness.Fail, -7, "where it must be dark"},
		{"the event may have come while it was lit", lit(flight(soon), drogue, s(19), 0, ms), harness.Unsure, none, "too near"},
		{"max_q is known only afterwards, so its absence dates nothing", lit(flight(maxq), drogue, s(5), s(6), ms), harness.Unsure, none, "too near"},
		{"the window opens after the run: nothing was seen of it", flight(opens(at("landing", s(3000)))), harness.Unsure, none, "the run ended at 20.000 s; set `until: landing + 3000 s` or later"},
		{"and lit long before it, which says nothing either", lit(flight(opens(at("landing", s(3000)))), drogue, s(5), s(6), ms), harness.Unsure, none, "the window opens at 3019.995 s"},
		{"and the run may not even go on so long", limited, harness.Unsure, none, "and `limit`, which is 600.000 s, beyond it"},
		{"the window opens one nanosecond after the run", flight(opens(at("", s(20)+1))), harness.Unsure, none, "the run ended"},
		{"the window opens as the run ends", flight(opens(at("", s(20)))), harness.Pass, none, "stayed dark"},
		{"the window closes after the run", flight(closes(at("apogee", s(11)))), harness.Unsure, none, "closes at 21.000 s, and the run ended at 20.000 s; set `until: apogee + 11 s`"},
		{"and lit before it opens: clear of it so far", lit(flight(window(at("apogee", 0), at("apogee", s(11)))), drogue, s(5), s(7), ms), harness.Unsure, 3, "set `until"},
		{"and lit inside it: that is known", lit(flight(closes(at("apogee", s(11)))), drogue, s(5), s(6), ms), harness.Fail, -16, "where it must be dark"},
		{"the window closes as the run ends", flight(closes(at("apogee", s(10)))), harness.Pass, none, "stayed dark"},
		{"the window closes before the run", flight(closes(at("liftoff", -ms))), harness.Unsure, none, "before the record begins"},
		{"the window opens before the run", flight(window(at("liftoff", -s(1)), at("apogee", 0))), harness.Unsure, none, "opens at -1.000 s, before the run began"},
		{"the window opens and closes after the run, in a record that is cut short", cut(flight(window(at("", s(30)), at("", s(40)))), s(12)), harness.Unsure, none, "cut short"},
		{"a window turned round holds nothing", flight(turned), harness.Unsure, none, "before it opens"},
	} {
		t.Run(c.reason, func(t *testing.T) {
			f := first(c.rec)
			assert.Equal(t, c.want, f.Answer, f.Reason)
			assert.Contains(t, f.Reason, c.says)
			assert.Equal(t, !math.IsNaN(c.margin), f.HasMargin, "margin %v", f.Margin)
			if f.HasMargin {
				assert.InDelta(t, c.margin, f.Margin, 1e-12)
			}
		})
	}
}

func TestTheShareOfNever(t *testing.T) {
	between, before, after := never(), never(), never()
	between.From, between.HasFrom = at("liftoff", 0), true // 0 to 10 s
	between.To, between.HasTo = at("apogee", 0), true
	before.To, before.HasTo = at("apogee", 0), true
	after.From, after.HasFrom = at("apogee", 0), true
	for _, c := range []struct {
		reason string
		rec    *harness.Record
		margin float64
	}{
		{"after a window, however long it was", lit(flight(between), drogue, s(12), 0, ms), 2},
		{"after a time, however long the pad took", lit(flight(before), drogue, s(12), 0, ms), 2},
		{"before a time, however long the run goes on", lit(flight(after), drogue, s(7), s(8), ms), 2},
		{"where it must be dark", lit(flight(after), drogue, s(12), s(13), ms), -3},
	} {
		f := first(c.rec)
		assert.InDelta(t, c.margin, f.Margin, 1e-12, c.reason)
		assert.InDelta(t, c.margin, f.Share, 1e-12, "%s: of one second", c.reason)
	}
}

// Tilt is 2 deg/s, so that 20 deg are reached at 10 s.
func TestNeverWhileAQuantityIsOutOfBounds(t *testing.T) {
	tilted := never()
	tilted.Quantity, tilted.HasMost, tilted.Most = sim.Tilt, true, 20*math.Pi/180
	low := never() // below 320 m: before 4 s and after 16 s
	low.Quantity, low.HasLeast, low.Least = sim.Height, true, 320
	both := tilted // and after liftoff + 15 s only
	both.From, both.HasFrom = at("liftoff", s(15)), true
	far := tilted // tilt gets to 40 deg
	far.Most = 60 * math.Pi / 180
	deep := low // height gets down to 0 m
	deep.Least = -10
	early := tilted // tilted from 10 s on
	early.To, early.HasTo = at("liftoff", s(8)), true
	beyond := tilted
	beyond.From, beyond.HasFrom = at("landing", s(1)), true
	for _, c := range []struct {
		reason string
		rec    *harness.Record
		want   harness.Answer
		margin float64
		says   string
	}{
		{"dark", flight(tilted), harness.Pass, math.NaN(), ""},
		{"lit while upright", lit(flight(tilted), drogue, s(5), s(6), ms), harness.Pass, 8, ""},
		{"lit while tilted", lit(flight(tilted), drogue, s(12), s(13), ms), harness.Fail, -6, ""},
		{"still on as it tilts", lit(flight(tilted), drogue, s(5), s(12), ms), harness.Fail, -4, ""},
		{"never off", lit(flight(tilted), drogue, s(5), 0, ms), harness.Fail, -20, ""},
		{"the tilt passes its bound while the time is uncertain", lit(flight(tilted), drogue, s(9), s(9.995), 10*ms), harness.Unsure, 0.01, ""},
		{"a pulse shorter than its uncertainty, surely tilted", lit(flight(tilted), drogue, s(12), s(12)+1, ms), harness.Fail, -4, ""},
		{"too low", lit(flight(low), drogue, s(2), s(3), ms), harness.Fail, 180 - 320, ""},
		{"high enough", lit(flight(low), drogue, s(6), s(7), ms), harness.Pass, 100, ""},
		{"tilted outside the window", lit(flight(both), drogue, s(12), s(13), ms), harness.Pass, math.NaN(), ""},
		{"tilted inside the window", lit(flight(both), drogue, s(16), s(17), ms), harness.Fail, -14, ""},
		{"upright, in a record that is cut short", cut(lit(flight(tilted), drogue, s(5), s(6), ms), s(8)), harness.Unsure, 8, ""},
		{"it never tilts so far: nothing was tried", flight(far), harness.Unsure, math.NaN(), "tilt went from 0.000 deg to 40.000 deg here, and it is to be dark while tilt is above 60.000 deg; change rail"},
		{"nor does a light show anything then", lit(flight(far), drogue, s(5), s(6), ms), harness.Unsure, math.NaN(), "nothing was tried"},
		{"it never gets so low", flight(deep), harness.Unsure, math.NaN(), "height went from 0.000 m to 500.000 m"},
		{"it does not tilt inside the window", flight(early), harness.Unsure, math.NaN(), "from 0.000 deg to 16.000 deg"},
		{"the window lies after the run", flight(beyond), harness.Unsure, math.NaN(), "set `until: landing + 1 s` or later"},
		{"an edge after the end of the record", lit(flight(tilted), drogue, s(21), 0, ms), harness.Unsure, math.NaN(), ""},
	} {
		t.Run(c.reason, func(t *testing.T) {
			f := first(c.rec)
			assert.Equal(t, c.want, f.Answer, f.Reason)
			assert.Contains(t, f.Reason, c.says)
			assert.Equal(t, !math.IsNaN(c.margin), f.HasMargin)
			if f.HasMargin {
				assert.InDelta(t, c.margin, f.Margin, 1e-8)
			}
		})
	}
	f := first(lit(flight(tilted), drogue, s(5), s(6), ms))
	assert.Equal(t, "dark ever while tilt is above 20.000 deg", f.Wanted)
	assert.Equal(t, "deg", f.Unit)
	assert.InDelta(t, 8.0/20, f.Share, 1e-9, "of the limit")
}

func TestLosingPowerTurnsAnOutputOff(t *testing.T) {
	e := never()
	e.From, e.HasFrom = at("apogee", 0), true
	rec := lit(flight(e), drogue, s(5), 0, ms)
	for i := 700; i < 720; i++ {
		rec.Frames[i].Powered = false
	}
	f := first(rec)
	assert.Equal(t, harness.Pass, f.Answer, "off at 7 s, before the window opens at 10 s")
	assert.InDelta(t, 3, f.Margin, 1e-12)

	rec.Frames[700].Due = false // not due: this frame says nothing, the next one does
	assert.InDelta(t, 2.99, first(rec).Margin, 1e-12)
}

// A pass of a wide window is one of each window inside it: widening never makes a pass of what was unsure.
func TestAWiderWindowOfNeverNeverTurnsIntoPass(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		rec := something(t)
		from := rapid.Int64Range(-3e9, 25e9).Draw(t, "from")
		to := rapid.Int64Range(from, 28e9).Draw(t, "to")
		e := never()
		e.From, e.HasFrom, e.To, e.HasTo = at("", sim.Time(from)), true, at("", sim.Time(to)), true
		rec.Plan.Expect = []harness.Expectation{e}
		narrow := first(rec)
		w := &rec.Plan.Expect[0]
		w.From.Offset -= sim.Time(rapid.Int64Range(0, 5e9).Draw(t, "earlier"))
		w.To.Offset += sim.Time(rapid.Int64Range(0, 5e9).Draw(t, "later"))
		if wide := first(rec); wide.Answer == harness.Pass && narrow.Answer != harness.Pass {
			t.Fatalf("%s (%s) became pass (%s)", narrow.Answer, narrow.Reason, wide.Reason)
		}
	})
}

// A pass means that it was tested: inside the window, in the run, the quantity was out of bounds at some tick or between
// two.
func TestWhatPassesWasTried(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		rec := something(t)
		e := &rec.Plan.Expect[0]
		e.Kind, e.Quantity, e.HasMost, e.HasLeast = harness.Never, sim.Height, true, false
		e.Most = rapid.Float64Range(-50, 600).Draw(t, "limit")
		f := first(rec)
		if f.Answer != harness.Pass {
			return
		}
		from, to := sim.Time(0), rec.Times[len(rec.Times)-1]
		if e.HasFrom {
			from, _ = e.From.In(rec.Events)
		}
		if e.HasTo {
			to, _ = e.To.In(rec.Events)
		}
		if from < 0 || to > rec.Times[len(rec.Times)-1] {
			t.Fatalf("a pass over %s to %s, of a run that ends at %s", from, to, rec.Times[len(rec.Times)-1])
		}
		height := func(at sim.Time) float64 { x := at.Seconds() - 10; return 500 - 5*x*x } // the flight's own formula
		top := max(height(from), height(to))
		if from <= s(10) && s(10) <= to {
			top = height(s(10))
		}
		if top < e.Most {
			t.Fatalf("a pass, and the height was %g m at most, never above %g m", top, e.Most)
		}
	})
}
