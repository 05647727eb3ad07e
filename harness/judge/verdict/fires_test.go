package verdict_test

import (
	"testing"

	"drystage/harness"
	"drystage/sim"

	"github.com/stretchr/testify/assert"
	"pgregory.net/rapid"
)

// The window of 50 to 150 ms with u = 2 ms, so U = 4 ms, accepts 54 to 146 ms: guarded acceptance of
// JCGM 106:2012, 8.3.2, with w = U. The numbers were computed outside this project.
func TestFiresTakesTheGuardBandOffItsWindow(t *testing.T) {
	for _, c := range []struct {
		at, within float64 // ms
		want       harness.Answer
		reason     string
	}{
		{100, 4, harness.Pass, "the middle"},
		{54, 4, harness.Pass, "the first accepted time"},
		{146, 4, harness.Pass, "the last accepted time"},
		{53.999, 4, harness.Unsure, "just before the first accepted time"},
		{146.001, 4, harness.Unsure, "just after the last accepted time"},
		{147, 4, harness.Unsure, "inside the window, but in its guard band"},
		{150, 4, harness.Unsure, "conformance probability one half"},
		{152, 4, harness.Unsure, "outside the window, by less than U"},
		{154, 4, harness.Unsure, "the uncertainty still touches the window"},
		{154.001, 4, harness.Fail, "wholly outside"},
		{45.999, 4, harness.Fail, "wholly before"},
		{50, 0, harness.Pass, "a bound belongs to the window"},
		{150, 0, harness.Pass, "a bound belongs to the window"},
		{150.000001, 0, harness.Fail, "one nanosecond late"},
		{100, 60, harness.Unsure, "wider than the window"},
	} {
		t.Run(c.reason, func(t *testing.T) {
			rec := flight(fires(at("", 50*ms), at("", 150*ms)))
			lit(rec, drogue, s(c.at/1e3), 0, s(c.within/1e3))
			f := first(rec)
			assert.Equal(t, c.want, f.Answer, f.Reason)
			assert.True(t, f.HasMargin)
			assert.InDelta(t, min(c.at-50, 150-c.at)/1e3, f.Margin, 1e-9, "the nearer bound")
			assert.InDelta(t, min(c.at-50, 150-c.at)/50, f.Share, 1e-9, "of half of 100 ms")
			assert.Equal(t, "s", f.Unit)
		})
	}
}

func TestFires(t *testing.T) {
	apogee := fires(at("apogee", s(-0.5)), at("apogee", s(1.5)))
	for _, c := range []struct {
		reason string
		rec    *harness.Record
		want   harness.Answer
		says   string
	}{
		{"in the window around an event", lit(flight(apogee), drogue, s(10.2), 0, ms), harness.Pass, "switched on at 10.200 s +- 1 ms, 0.700 s inside the window"},
		{"early", lit(flight(apogee), drogue, s(4), 0, ms), harness.Fail, "5.500 s before the window opens"},
		{"late", lit(flight(apogee), drogue, s(14), 0, ms), harness.Fail, "2.500 s after the window closes"},
		{"at the close", lit(flight(apogee), drogue, s(11.5), 0, ms), harness.Unsure, "too near to the close"},
		{"at the opening", lit(flight(apogee), drogue, s(9.5), 0, ms), harness.Unsure, "too near to the opening"},
		{"only the first time counts", lit(lit(flight(apogee), drogue, s(4), s(5), ms), drogue, s(10.2), 0, ms), harness.Fail, "before the window opens"},
		{"edges out of order are put in order", lit(lit(flight(apogee), drogue, s(10.2), 0, ms), drogue, s(4), s(5), ms), harness.Fail, "before the window opens"},
		{"another channel is another output", lit(flight(apogee), main, s(10.2), 0, ms), harness.Fail, "never switched on"},
		{"never, in a whole record", flight(apogee), harness.Fail, "never switched on; the run ended at 20.000 s"},
		{"never, but the record is cut inside the window", cut(flight(apogee), s(11)), harness.Unsure, "it may have come later"},
		{"never, and the record goes on past the window", cut(flight(apogee), s(12)), harness.Fail, "after the window had closed"},
		{"the cut comes within an edge's uncertainty of the close", cut(lit(flight(apogee), main, s(5), 0, s(1)), s(12)), harness.Unsure, "it may have come later"},
		{"fired, but the event is still to come", cut(lit(flight(apogee), drogue, s(4), 0, ms), s(5)), harness.Unsure, `"apogee" had not happened when the record ended at 5.000 s`},
		{"fired, and the event never came", lit(flight(fires(at("booster.apogee", 0), at("apogee", 0))), drogue, s(4), 0, ms), harness.Unsure, `"booster.apogee" did not happen`},
		{"fired, and the closing event never came", lit(flight(fires(at("apogee", 0), at("booster.apogee", 0))), drogue, s(4), 0, ms), harness.Unsure, `"booster.apogee" did not happen`},
		{"never fired at all: no window can hold that", flight(fires(at("booster.apogee", 0), at("apogee", 0))), harness.Fail, "never switched on"},
		{"a window turned round is nobody's fault", lit(flight(fires(at("apogee", 0), at("liftoff", 0))), drogue, s(10), 0, 0), harness.Unsure, "before it opens"},
		{"a window turned round in a cut record", cut(flight(fires(at("apogee", 0), at("liftoff", 0))), s(12)), harness.Unsure, "it may have come later"},
		{"never, and the run ends before the window closes", flight(fires(at("apogee", 0), at("apogee", s(11)))), harness.Unsure, "it may still have come: the window closes at 21.000 s, and the run ended at 20.000 s; set `until: apogee + 11 s` or later"},
		{"never, and the run ends before the window opens", flight(fires(at("apogee", s(15)), at("apogee", s(16)))), harness.Unsure, "the window opens at 25.000 s"},
		{"too early for a window that the run did not reach", lit(flight(fires(at("apogee", s(15)), at("apogee", s(16)))), drogue, s(5), 0, ms), harness.Fail, "20.000 s before the window opens"},
		{"seen inside, wherever the window closes", lit(flight(fires(at("apogee", 0), at("apogee", s(11)))), drogue, s(12), 0, ms), harness.Pass, "inside the window"},
		{"never, and the window closes as the run ends", flight(fires(at("apogee", 0), at("apogee", s(10)))), harness.Fail, "never switched on"},
		{"times at the end of the number line don't wrap", lit(flight(apogee), drogue, s(20), 0, sim.Never), harness.Unsure, "too near"},
	} {
		t.Run(c.reason, func(t *testing.T) {
			f := first(c.rec)
			assert.Equal(t, c.want, f.Answer, f.Reason)
			assert.Contains(t, f.Reason, c.says)
			assert.NotEmpty(t, f.Wanted)
			assert.NotEmpty(t, f.Seen)
		})
	}
}

func TestAWiderWindowNeverTurnsPassToFail(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		span := func(name string) sim.Time { return sim.Time(rapid.Int64Range(0, 25e9).Draw(t, name)) }
		rec := flight()
		if rapid.Bool().Draw(t, "cut") {
			rec = cut(rec, span("end")%s(20))
		}
		if rapid.Bool().Draw(t, "fired") {
			lit(rec, drogue, span("on"), 0, span("within")/100)
		}
		from, wide := span("from"), span("wide")
		rec.Plan.Expect = []harness.Expectation{fires(at("", from), at("", from+span("width")))}
		narrow := first(rec).Answer
		e := &rec.Plan.Expect[0]
		e.From.Offset, e.To.Offset = e.From.Offset-wide, e.To.Offset+wide
		if got := first(rec); narrow == harness.Pass && got.Answer != harness.Pass {
			t.Fatalf("the narrow window passed, the wide one is %s: %s", got.Answer, got.Reason)
		}
	})
}

// A board may have reacted late to a late frame: the lateness is added to the guard band of the outputs of the next tenth
// of a second, and of no other.
func TestLatenessJoinsTheGuardBand(t *testing.T) {
	for _, c := range []struct {
		reason string
		tick   int // every 10 ms
		late   sim.Time
		want   harness.Answer
	}{
		{"nothing late", 12, 0, harness.Pass},
		{"late just before the output, by less than the margin", 12, 4 * ms, harness.Pass},
		{"late just before the output, by more than the margin", 12, 7 * ms, harness.Unsure},
		{"late with the output's own frame", 14, 7 * ms, harness.Unsure},
		{"a tenth of a second before", 4, 7 * ms, harness.Unsure},
		{"longer ago than that", 3, 7 * ms, harness.Pass},
		{"after it", 15, 7 * ms, harness.Pass},
	} {
		rec := lit(flight(fires(at("", 50*ms), at("", 150*ms))), drogue, 140*ms, 0, 4*ms)
		paced(rec)
		rec.Late[c.tick] = c.late
		assert.Equal(t, c.want, first(rec).Answer, c.reason)
	}
}
