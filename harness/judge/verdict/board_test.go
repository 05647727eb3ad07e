package verdict_test

import (
	"testing"

	"drystage/harness"
	"drystage/harness/judge/verdict"
	"drystage/sim"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestReports(t *testing.T) {
	e := harness.Expectation{Kind: harness.Reports, Report: harness.ApogeeHeight, Most: 25, HasMost: true}
	say := func(rec *harness.Record, at sim.Time, apogee float64) *harness.Record {
		rec.Reports = append(rec.Reports, harness.Report{At: at, Apogee: apogee})
		return rec
	}
	other := say(say(seated(flight(e)), s(19), 510), s(20), 0)
	other.Reports[1].Bay = 1
	whole := func(rec *harness.Record) *harness.Record { rec.Cause = ""; return rec }
	check(t, []row{
		{"near enough", say(flight(e), s(19), 510), harness.Pass, 15, 0.6, "off by 10.000 m"},
		{"too high", say(flight(e), s(19), 530), harness.Fail, -5, -0.2, ""},
		{"too low", say(flight(e), s(19), 470), harness.Fail, -5, -0.2, ""},
		{"just within", say(flight(e), s(19), 525), harness.Pass, 0, 0, ""},
		{"the last report counts", say(say(flight(e), s(5), 100), s(19), 500), harness.Pass, 25, 1, "19.000 s"},
		{"the last by time, not by place", say(say(flight(e), s(19), 500), s(5), 100), harness.Pass, 25, 1, "19.000 s"},
		{"another board's report is not this one's", other, harness.Pass, 15, 0.6, ""},
		{"no report", flight(e), harness.Fail, none, 0, "reported nothing"},
		{"no report, in a record that is cut short", cut(flight(e), s(12)), harness.Unsure, none, 0, "cut short"},
		{"in a record that is cut short", cut(say(flight(e), s(11), 500), s(12)), harness.Unsure, none, 0, "cut short"},
		{"the run ends on the way up: no apogee yet", whole(cut(say(flight(e), s(5), 375), s(5))), harness.Unsure, none, 0, "set `until: apogee"},
		{"not a number", say(flight(e), s(19), none), harness.Unsure, none, 0, "NaN"},
	})
}

func TestEstimates(t *testing.T) {
	height := harness.Expectation{Kind: harness.Reports, Report: harness.ReportedHeight, Most: 25, HasMost: true,
		HasFrom: true, From: at("liftoff", s(1)), HasTo: true, To: at("apogee", s(5))}
	speed := harness.Expectation{Kind: harness.Reports, Report: harness.ReportedSpeed, Most: 4, HasMost: true}
	say := func(rec *harness.Record, at sim.Time, h, v float64) *harness.Record {
		rec.Reports = append(rec.Reports, harness.Report{At: at, Height: h, Speed: v})
		return rec
	}
	long := height
	long.To = at("landing", s(5))
	check(t, []row{
		{"near enough", say(flight(height), s(5), 385, 0), harness.Pass, 15, 0.6, "a height of 385.000 m at 5.000 s, off by 10.000 m"},
		{"too high", say(flight(height), s(5), 435, 0), harness.Fail, -35, -1.4, ""},
		{"the worst one decides", say(say(say(flight(height), s(5), 375, 0), s(6), 450, 0), s(7), 455, 0), harness.Fail, -5, -0.2, "at 6.000 s"},
		{"outside of the window nothing counts", say(say(flight(height), 500*ms, 400, 0), s(5), 375, 0), harness.Pass, 25, 1, ""},
		{"true within a tick of its time: too near to tell", say(flight(height), s(5), 400.3, 0), harness.Unsure, -0.3, -0.012, ""},
		{"0 is no estimate", say(flight(height), s(5), 0, 0), harness.Unsure, none, 0, "reported no height"},
		{"the window goes beyond the run", say(flight(long), s(5), 375, 0), harness.Unsure, 25, 1, "the window closes at"},
		{"a wrong one fails, whatever comes later", cut(say(flight(height), s(5), 500, 0), s(6)), harness.Fail, -100, -4, ""},
		{"right so far, in a record that is cut short", cut(say(flight(speed), s(5), 0, 50), s(6)), harness.Unsure, 4, 1, "cut short"},
		{"a speed", say(say(flight(speed), s(5), 0, 47), s(12), 0, -20), harness.Pass, 1, 0.25, "an upward speed of 47.000 m/s"},
		{"a speed the wrong way", say(flight(speed), s(12), 0, 20), harness.Fail, -36, -9, ""},
	})
}

func TestAlive(t *testing.T) {
	e := harness.Expectation{Kind: harness.Alive}
	health := func(h ...harness.Health) *harness.Record { r := flight(e); r.Health = h; return r }
	check(t, []row{
		{"answered to the end", flight(e), harness.Pass, none, 0, "answered to the end"},
		{"restarted", health(harness.Health{Boots: 2, Unasked: 1, RoundTrips: 9}), harness.Fail, none, 0, "restarted once"},
		{"booted twice after a power cut", health(harness.Health{Boots: 2, RoundTrips: 9}), harness.Pass, none, 0, ""},
		{"left a question without an answer", health(harness.Health{Boots: 1, RoundTrips: 9, Answers: harness.Answers{Missing: 2, MissingAt: s(3)}}), harness.Unsure, none, 0, "left 2 questions without an answer, the first at 3.000 s"},
		{"never answered", health(harness.Health{}), harness.Unsure, none, 0, "never answered"},
		{"nothing on record", health(), harness.Unsure, none, 0, "nothing is on record"},
		{"the run ended early", cut(flight(e), s(5)), harness.Unsure, none, 0, "exchange 412"},
	})
}

func TestDoubts(t *testing.T) {
	e := never()
	good := func() *harness.Record { return flight(e) }
	change := func(f func(r *harness.Record)) *harness.Record { r := good(); f(r); return r }
	fault := func(f sim.Fault) *harness.Record {
		return change(func(r *harness.Record) { r.Plan.Setup.Faults = []sim.Fault{f} })
	}
	stray := harness.Channel{Channel: 4}
	toggle := func(n int) *harness.Record { // n edges within one tick, the last of them just before the next one
		return change(func(r *harness.Record) {
			r.Plan.Expect[0].Output = main
			for i := range n {
				r.Outputs = append(r.Outputs, harness.Edge{Output: sim.Output{Channel: 1, On: i%2 == 0, At: s(5) + 10*ms*sim.Time(i)/sim.Time(n)}})
			}
		})
	}
	for _, c := range []struct {
		reason string
		rec    *harness.Record
		text   string
		says   string
	}{
		{"an output that no file declares", lit(good(), stray, s(7), s(8), ms), "sustainer.4: an output that no file declares stays dark",
			"it was on at 7.000 s +- 1 ms, off at 8.000 s +- 1 ms; declare channel 4 under `outputs`"},
		{"and twice", lit(lit(good(), stray, s(7), s(8), ms), stray, s(9), 0, ms), "sustainer.4: an output that no file declares stays dark", "and once more; declare"},
		{"and for no time at all", lit(good(), stray, s(7), s(7), 0), "sustainer.4: an output that no file declares stays dark", "on at 7.000 s"},
		{"an output that toggles within one tick", toggle(5), "sustainer.drogue: it switches no faster than can be told", "5 times within the tick at 5.000 s, at most 4"},
		{"thousands of times", toggle(3000), "sustainer.drogue: it switches no faster than can be told", "3000 times within the tick at 5.000 s"},
		{"no expectation", change(func(r *harness.Record) { r.Plan.Expect = nil }), "the scenario expects something", "nothing was tested"},
		{"cut short", cut(good(), s(20)), "the run reaches its planned end", "exchange 412: deadline exceeded"},
		{"cut short without a cause", change(func(r *harness.Record) { r.Plan.Setup.Until = at("apogee", s(11)) }), "the run reaches its planned end", "no cause is on record"},
		{"a sensor fault that never fired", fault(sim.Fault{Kind: sim.Spike, Part: sim.PartBaro, From: at("apogee", -s(2))}),
			"fault 1 (spike on sustainer.barometer from apogee - 2 s) changes something", "not tested against it"},
		{"a vehicle fault that never fired", fault(sim.Fault{Kind: sim.DeadIgniter}), "fault 1 (igniter_dead on sustainer from start) changes something", ""},
		{"a power fault that never fired", fault(sim.Fault{Kind: sim.PowerCut, From: at("", s(3))}), "fault 1 (power_cut on sustainer from start + 3 s) changes something", ""},
		{"corrupt from the board", change(func(r *harness.Record) { r.Health[0].Bad = 3 }), "sustainer: the link is whole", "from the board 3 corrupt"},
		{"missing from the board", change(func(r *harness.Record) { r.Health[0].Lost = 3 }), "sustainer: the link is whole", "3 missing frames, to the board 0"},
		{"corrupt to the board", change(func(r *harness.Record) { r.Health[0].BoardBad = 3 }), "sustainer: the link is whole", "to the board 3 corrupt"},
		{"missing to the board", change(func(r *harness.Record) { r.Health[0].BoardLost = 3 }), "sustainer: the link is whole", "to the board 0 corrupt and 3 missing"},
		{"edges while not armed", change(func(r *harness.Record) { r.Health[0].Unarmed = 2 }), "sustainer: outputs stay still while it says that it is not armed", "2 edges"},
		{"armed by nobody", change(func(r *harness.Record) { r.Health[0].SelfArmed, r.Health[0].SelfArmedAt = 3, s(1.5) }),
			"sustainer: it is armed by a command and by nothing else", "at 1.500 s it said that it is armed, and 3 times in all"},
		{"a question without an answer", change(func(r *harness.Record) { r.Health[0].Answers = harness.Answers{Missing: 1, MissingAt: s(3)} }),
			"sustainer: it answers all that it is asked", "1 question had no answer, the first asked at 3.000 s"},
		{"a slow answer", change(func(r *harness.Record) {
			r.Health[0].Answers = harness.Answers{Limit: 5 * ms, Slowest: 300 * ms, At: s(4), Bench: 20 * ms, Over: 1}
		}), "sustainer: it answers in time", "1 answer took longer than 0.005000 s, the slowest 0.300 s, to what was sent at 4.000 s (the bench itself may have added 0.020 s)"},
		{"a program that was ended by a signal", change(func(r *harness.Record) { r.Health[0].End.Signal = "aborted" }), "sustainer: its program ends with status 0", "ended with signal: aborted"},
		{"and after it was asked to end", change(func(r *harness.Record) { r.Health[0].End = harness.Ending{Signal: "aborted", Forced: "terminated"} }),
			"sustainer: its program ends with status 0", "ended with signal: aborted"},
		{"a program that failed", change(func(r *harness.Record) { r.Health[0].End.Status = 7 }), "sustainer: its program ends with status 0", "ended with exit status 7"},
		{"a receiver whose port nobody reads", change(func(r *harness.Record) {
			r.Health[0].Port = harness.PortHealth{Address: "unix:x", Sent: 40, Lost: 2, Cause: "nobody reads it"}
		}), "sustainer: its receiver's port unix:x takes what it is given", "it took 40 sets of sentences and lost 2: nobody reads it"},
		{"restarts that no expectation judges", change(func(r *harness.Record) { r.Health[0].Unasked = 2 }), "sustainer: the board does not restart by itself", "2 times"},
		{"no health", change(func(r *harness.Record) { r.Health = nil }), "sustainer: the link is whole", "nothing is on record"},
		{"late frames", change(func(r *harness.Record) { paced(r, 10*ms, 11*ms, 30*ms) }), "frames leave in time", "2 ticks left more than 0.010 s late, at most 0.030 s"},
		{"lateness for some frames only", change(func(r *harness.Record) { paced(r); r.Late = r.Late[1:] }), "frames leave in time", "of 2000 of 2001 ticks"},
		{"a clock that could not be fitted", change(func(r *harness.Record) {
			paced(r)
			r.Clocks = []harness.BoardClock{{Life: 1, Trouble: "clock: too few answers"}}
			r.Outputs = []harness.Edge{{Output: sim.Output{Channel: 9, On: true, At: s(5)}, Life: 1}}
		}), "sustainer: its clock can be fitted", "too few answers; 1 edge"},
	} {
		t.Run(c.reason, func(t *testing.T) {
			v := verdict.Judge(c.rec)
			require.NotEmpty(t, v.Findings)
			f := v.Findings[len(v.Findings)-1]
			assert.Equal(t, c.text, f.Text)
			assert.Contains(t, f.Reason, c.says)
			assert.Equal(t, harness.Unsure, f.Answer)
			assert.Equal(t, harness.Unsure, v.Answer, "a doubt leaves the whole unsure")
		})
	}
	assert.Len(t, verdict.Judge(good()).Findings, 1, "a good run leaves no doubt")
	assert.Equal(t, harness.Pass, verdict.Judge(toggle(4)).Answer, "two pulses in one tick are odd, and can be told")
	fired := fault(sim.Fault{Kind: sim.Spike, Part: sim.PartBaro})
	fired.Active[5] = 1
	for _, end := range []harness.Ending{{Signal: "terminated", Forced: "terminated"}, {Signal: "killed", Forced: "terminated"}, {Status: 143, Forced: "terminated"}} {
		assert.Equal(t, harness.Pass, verdict.Judge(change(func(r *harness.Record) { r.Health[0].End = end })).Answer, "%+v is the bench's doing", end)
	}
	assert.Equal(t, harness.Pass, verdict.Judge(fired).Answer, "a fault that changed something leaves no doubt")
}

// paced makes a real-time record whose first frames left late by some times and all others at once.
func paced(r *harness.Record, late ...sim.Time) {
	r.Pace = harness.Pace{RealTime: true, Limit: 10 * ms}
	r.Late = make([]sim.Time, len(r.Times))
	copy(r.Late, late)
}

func TestTiming(t *testing.T) {
	rec := seated(flight(never()))
	paced(rec)
	for i := range rec.Late { // 2001 of them, in no order
		rec.Late[i] = sim.Time(i*7%2001) * sim.Microsecond
	}
	got := verdict.Judge(rec).Timing
	assert.Equal(t, harness.Timing{Pace: rec.Pace, Frames: 2001, P50: 1000 * sim.Microsecond, P99: 1980 * sim.Microsecond,
		P999: 1998 * sim.Microsecond, Most: 2000 * sim.Microsecond}, got)
	assert.Equal(t, harness.Pass, verdict.Judge(rec).Answer)
	rec.Clocks = []harness.BoardClock{{Trouble: "clock: too few answers"}, {Bay: 1, Trouble: "of another board"}}
	assert.Equal(t, harness.Pass, verdict.Judge(rec).Answer, "a clock that no edge needs leaves no doubt")
	assert.Zero(t, verdict.Judge(flight(never())).Timing, "lockstep has no lateness")
}

func TestADoubtDoesNotSaveABoardThatFailed(t *testing.T) {
	rec := lit(flight(never()), drogue, s(5), 0, ms)
	rec.Health[0].Lost = 1
	v := verdict.Judge(rec)
	assert.Equal(t, harness.Fail, v.Answer)
	assert.Len(t, v.Findings, 2)
}
