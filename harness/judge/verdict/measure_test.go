package verdict_test

import (
	"math"
	"testing"

	"drystage/harness"
	"drystage/sim"

	"github.com/stretchr/testify/assert"
)

const degree = math.Pi / 180

// row is one record and what its first finding has to be; a margin of NaN is none.
type row struct {
	reason string
	rec    *harness.Record
	want   harness.Answer
	margin float64
	share  float64
	says   string
}

var none = math.NaN()

func check(t *testing.T, rows []row) {
	for _, c := range rows {
		t.Run(c.reason, func(t *testing.T) {
			f := first(c.rec)
			assert.Equal(t, c.want, f.Answer, f.Reason)
			assert.Contains(t, f.Reason, c.says)
			assert.Equal(t, !math.IsNaN(c.margin), f.HasMargin, "margin %v", f.Margin)
			if f.HasMargin {
				assert.InDelta(t, c.margin, f.Margin, 1e-9)
				assert.InDelta(t, c.share, f.Share, 1e-8)
			}
		})
	}
}

func TestOnce(t *testing.T) {
	e := harness.Expectation{Kind: harness.Once, Output: drogue}
	twice := func() *harness.Record { return lit(lit(flight(e), drogue, s(5), s(6), 0), drogue, s(7), s(8), 0) }
	again := lit(lit(flight(e), drogue, s(5), 0, 0), drogue, s(7), 0, 0)
	reset := lit(lit(flight(e), drogue, s(5), 0, 0), drogue, s(7), 0, 0)
	reset.Frames[600].Powered = false
	cutAtOnce := lit(lit(flight(e), drogue, s(5), 0, 0), drogue, s(7), 0, 0)
	cutAtOnce.Frames[500].Powered, cutAtOnce.Frames[499].Due = false, false
	cutBefore := lit(lit(flight(e), drogue, s(5), 0, 0), drogue, s(7), 0, 0)
	cutBefore.Frames[499].Powered, cutBefore.Frames[500].Powered = false, false
	check(t, []row{
		{"once", lit(flight(e), drogue, s(5), s(6), 0), harness.Pass, none, 0, "switched on once"},
		{"not at all is at most once", flight(e), harness.Pass, none, 0, "switched on never"},
		{"twice", twice(), harness.Fail, none, 0, "2 times"},
		{"told twice that it is on", again, harness.Pass, none, 0, "once"},
		{"on again after its power was cut", reset, harness.Fail, none, 0, "2 times"},
		{"on again after its power was cut at the tick at which it went on", cutAtOnce, harness.Fail, none, 0, "2 times"},
		{"told twice that it is on, its power having been off before", cutBefore, harness.Pass, none, 0, "once"},
		{"once, in a record that is cut short", cut(lit(flight(e), drogue, s(5), s(6), 0), s(9)), harness.Unsure, none, 0, "cut short"},
		{"twice, in a record that is cut short", cut(twice(), s(9)), harness.Fail, none, 0, "2 times"},
	})
}

func TestPulse(t *testing.T) {
	e := harness.Expectation{Kind: harness.Pulse, Output: drogue, Least: 0.5, HasLeast: true, Most: 2, HasMost: true}
	least, most := e, e
	least.HasMost, most.HasLeast = false, false
	for0 := func(e harness.Expectation, length, within sim.Time) *harness.Record {
		return lit(flight(e), drogue, s(5), s(5)+length, within)
	}
	check(t, []row{
		{"in the middle", for0(e, s(1.25), ms), harness.Pass, 0.75, 1, "off at 6.250 s"},
		{"both uncertainties are summed: 2 ms stay clear", for0(e, s(0.502), ms), harness.Pass, 0.002, 0.002 / 0.75, ""},
		{"and less does not", for0(e, s(0.502)-1, ms), harness.Unsure, 0.002, 0.002 / 0.75, "does not say on which side"},
		{"too short", for0(e, s(0.1), ms), harness.Fail, -0.4, -0.4 / 0.75, ""},
		{"too long", for0(e, s(3), ms), harness.Fail, -1, -1 / 0.75, ""},
		{"just as long as asked", for0(e, s(0.5), 0), harness.Pass, 0, 0, ""},
		{"share of the only limit, least", for0(least, s(2), 0), harness.Pass, 1.5, 3, ""},
		{"share of the only limit, most", for0(most, s(1), 0), harness.Pass, 1, 0.5, ""},
		{"never off, longer than allowed", for0(e, -s(5), 0), harness.Fail, -13, -13 / 0.75, "still on at 20.000 s"},
		{"never off, which is long enough", for0(least, -s(5), 0), harness.Pass, 14.5, 29, "still on"},
		{"the record ends while it is on, neither too short nor too long yet", cut(for0(e, -s(5), 0), s(6)), harness.Unsure, 0.5, 0.5 / 0.75, "still on at 6.000 s"},
		{"the worst pulse counts", lit(for0(e, s(1), 0), drogue, s(8), s(8.1), 0), harness.Fail, -0.4, -0.4 / 0.75, "on at 8.000 s"},
		{"of two good ones the nearer to its limit", lit(for0(e, s(1), 0), drogue, s(8), s(8.6), 0), harness.Pass, 0.1, 0.1 / 0.75, "on at 8.000 s"},
		{"nothing to measure", flight(e), harness.Unsure, none, 0, "nothing to measure"},
		{"good so far, in a record that is cut short", cut(for0(e, s(1), 0), s(9)), harness.Unsure, 0.5, 0.5 / 0.75, "may have switched on again"},
	})
}

func TestOrder(t *testing.T) {
	e := harness.Expectation{Kind: harness.Order, Output: drogue, Then: main}
	second := e
	second.Least, second.HasLeast = 1, true
	both := second
	both.Most, both.HasMost = 5, true
	pair := func(e harness.Expectation, gap, within sim.Time) *harness.Record {
		return lit(lit(flight(e), drogue, s(10), s(11), within), main, s(10)+gap, 0, within)
	}
	check(t, []row{
		{"in order; with no gap asked for, the share is of 1 s", pair(e, s(0.5), ms), harness.Pass, 0.5, 0.5, "0.500 s"},
		{"turned round", pair(e, -s(0.5), ms), harness.Fail, -0.5, -0.5, "before sustainer.drogue"},
		{"together is not before", pair(e, 0, 0), harness.Fail, 0, 0, "together with"},
		{"one nanosecond is before", pair(e, 1, 0), harness.Pass, 1e-9, 1e-9, ""},
		{"within both uncertainties", pair(e, ms, ms), harness.Unsure, 0.001, 0.001, "too near"},
		{"the gap is wide enough", pair(second, s(1.5), ms), harness.Pass, 0.5, 0.5, ""},
		{"the gap is too narrow", pair(second, s(0.5), ms), harness.Fail, -0.5, -0.5, ""},
		{"share of half the limits' distance", pair(both, s(2), ms), harness.Pass, 1, 0.5, ""},
		{"too late", pair(both, s(7), ms), harness.Fail, -2, -1, ""},
		{"the later one alone", lit(flight(e), main, s(10), 0, ms), harness.Fail, none, 0, "sustainer.drogue had not"},
		{"the earlier one alone", lit(flight(e), drogue, s(10), 0, ms), harness.Unsure, none, 0, "sustainer.main never switched on"},
		{"neither", flight(e), harness.Unsure, none, 0, "nothing to measure"},
		{"the later one alone, just as the record is cut short", cut(lit(flight(e), main, s(10), 0, ms), s(10)), harness.Unsure, none, 0, "cut short"},
		{"the later one alone, long before the record is cut short", cut(lit(flight(e), main, s(10), 0, ms), s(12)), harness.Fail, none, 0, "had not"},
	})
}

// Tilt is 2 deg/s; between two ticks of 10 ms it is interpolated.
func TestQuantityAtFiring(t *testing.T) {
	e := harness.Expectation{Kind: harness.AtFiring, Output: drogue, Quantity: sim.Tilt, Most: 20 * degree, HasMost: true}
	check(t, []row{
		{"upright", lit(flight(e), drogue, s(5), 0, ms), harness.Pass, 10, 0.5, "tilt 10.000 deg (9.998 deg to 10.002 deg)"},
		{"between two ticks", lit(flight(e), drogue, s(5)+5*ms, 0, 0), harness.Pass, 9.99, 0.4995, "tilt 10.010 deg"},
		{"tilted", lit(flight(e), drogue, s(15), 0, ms), harness.Fail, -10, -0.5, "tilt 30.000 deg"},
		{"time uncertainty times rate reaches the limit", lit(flight(e), drogue, s(9.99), 0, 20*ms), harness.Unsure, 0.02, 0.001, "too near"},
		{"and does not", lit(flight(e), drogue, s(9.97), 0, 20*ms), harness.Pass, 0.06, 0.003, ""},
		{"every firing counts, the worst decides", lit(lit(flight(e), drogue, s(5), s(6), ms), drogue, s(15), s(16), ms), harness.Fail, -10, -0.5, "15.000 s"},
		{"it never fired", flight(e), harness.Unsure, none, 0, "nothing to measure"},
		{"good so far, in a record that is cut short", cut(lit(flight(e), drogue, s(5), s(6), ms), s(9)), harness.Unsure, 10, 0.5, "may have switched on again"},
		{"bad, in a record that is cut short", cut(lit(flight(e), drogue, s(15), 0, ms), s(16)), harness.Fail, -10, -0.5, ""},
		{"the record ends while the time is uncertain", cut(lit(flight(e), drogue, s(5), 0, ms), s(5)), harness.Unsure, none, 0, "it ends at 5.000 s"},
		{"before the first tick it stands on its pad", lit(flight(e), drogue, 0, s(1), ms), harness.Pass, 20, 1, ""},
	})
}

func TestQuantityAtEvent(t *testing.T) {
	e := harness.Expectation{Kind: harness.AtEvent, Event: "landing", Quantity: sim.Descent, Most: 120, HasMost: true}
	strict, apogee, burnout := e, e, e
	strict.Most = 9
	apogee.Event, apogee.Quantity, apogee.Most = "apogee", sim.Height, 1000
	burnout.Event, burnout.Quantity, burnout.HasLeast, burnout.Least, burnout.Most = "sustainer.burnout", sim.Climb, true, 60, 80
	later := flight(e) // the record's "landing" is another body's
	for i := 1500; i < 2001; i++ {
		later.States[i].Landed, later.States[i].Velocity.Z = true, 0
	}
	near := e
	near.Most = 99.92 // the last value is 99.9 m/s, and 0.05 may come on top of it
	check(t, []row{
		{"just before the ground; the tick after it is at rest and tells nothing", flight(e), harness.Pass, 20.1, 20.1 / 120, "descent 99.900 m/s"},
		{"a hard landing is not hidden by the rest after it", flight(strict), harness.Fail, -90.9, -90.9 / 9, ""},
		{"the last change is its uncertainty", flight(near), harness.Unsure, 0.02, 0.02 / 99.92, "99.850 m/s to 99.950 m/s"},
		{"at a tick", flight(apogee), harness.Pass, 500, 0.5, "height 500.000 m"},
		{"two limits: share of half their distance", flight(burnout), harness.Pass, 10, 1, ""},
		{"the event did not come", cut(flight(e), s(12)), harness.Unsure, none, 0, "had not happened"},
		{"this body had landed long before", later, harness.Unsure, none, 0, "ask for sustainer.landing instead"},
		{"it came, then the record was cut", cut(flight(burnout), s(5)), harness.Pass, 10, 1, ""},
	})
}
