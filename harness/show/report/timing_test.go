package report

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"drystage/harness"
	"drystage/sim"
)

// realTime has one flight in time, with a board that started twice and one whose clock is of no use,
// and one flight that was late.
func realTime() []harness.Verdict {
	const us = sim.Microsecond
	pace := harness.Pace{RealTime: true, Limit: 2 * sim.Millisecond, How: "timer slack 1 ns, SCHED_FIFO 80, memory locked, awake for the last 50 us"}
	good := harness.Finding{Text: "alive: sustainer", Answer: harness.Pass, Reason: "it answered"}
	vs := []harness.Verdict{
		{
			Name: "power-cut", Title: "A power cut", Answer: harness.Pass, Seed: 3, File: "scenarios/power-cut.yaml", Findings: []harness.Finding{good},
			Timing: harness.Timing{Pace: pace, Frames: 27021, P50: 0, P99: 9 * us, P999: 31 * us, Most: 1_204_000},
			Boards: []harness.Health{{Name: "mine\x1b[31m", Boots: 2, RoundTrips: 900, End: harness.Ending{Signal: "killed", Forced: "terminated"},
				Answers: harness.Answers{Limit: 100 * sim.Millisecond, Slowest: 312 * sim.Millisecond, At: 4200 * sim.Millisecond, Bench: 12 * sim.Millisecond, Over: 2}}, {}},
			Clocks: []harness.BoardClock{
				{Bay: 0, Life: 1, Readings: 210, Used: 48, Delay: 85 * us, Offset: -621 * us, Drift: -12.3e-6, Within: 105 * us},
				{Bay: 0, Life: 2, Readings: 9, Used: 9, Delay: 3 * sim.Millisecond, Offset: 4 * sim.Second, Drift: 40e-6, Within: 4200 * us},
				{Bay: 1, Life: 1, Trouble: "clock: too few answers: 0 usable, at least 8 are needed"},
			},
		},
		{
			Name: "late", Title: "A busy machine", Answer: harness.Unsure, Seed: 1, File: "scenarios/late.yaml",
			Timing: harness.Timing{Pace: pace, Frames: 100, P50: 5 * us, P99: 3 * sim.Millisecond, P999: 5631 * us, Most: 5631 * us, Over: 2},
			Findings: []harness.Finding{good, {Text: "frames leave in time", Answer: harness.Unsure,
				Reason: "2 ticks left more than 0.002000 s late, at most 0.005631 s; give the bench a quieter machine, or a real-time priority"}},
		},
	}
	vs[1].Timing.How = "ordinary priority (SCHED_FIFO: operation not permitted)"
	return vs
}

func TestRealTimeGoldens(t *testing.T) {
	for name, got := range map[string]string{
		"realtime.txt":  text(t, Terminal, realTime(), options()),
		"realtime.json": text(t, JSON, realTime(), options()),
		"realtime.xml":  text(t, JUnit, realTime(), options()),
	} {
		golden(t, name, got)
	}
}

// TestBrief: a short time in the unit that suits it.
func TestBrief(t *testing.T) {
	for want, in := range map[string]sim.Time{
		"0 us": 0, "12 us": 12_300, "-621 us": -621 * sim.Microsecond, "1.20 ms": 1_204_000, "-7.00 ms": -7 * sim.Millisecond, "4.000 s": 4 * sim.Second,
	} {
		assert.Equal(t, want, shortTime(in))
	}
}

// TestClocksOfNoBoard: a record read from a file may name a board that there is not.
func TestClocksOfNoBoard(t *testing.T) {
	for _, bay := range []int{-1, 2, 99} {
		c := harness.BoardClock{Bay: bay, Trouble: "why"}
		assert.Contains(t, BoardClock(&realTime()[0], &c), ": why")
	}
}
