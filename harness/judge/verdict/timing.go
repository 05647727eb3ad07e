package verdict

import (
	"fmt"
	"slices"

	"drystage/harness"
	"drystage/sim"
)

// timing summarises the lateness of the frames of a real-time run.
func timing(rec *harness.Record) harness.Timing {
	t := harness.Timing{Pace: rec.Pace, Frames: len(rec.Late)}
	if !rec.Pace.RealTime || t.Frames == 0 {
		return t
	}
	late := slices.Sorted(slices.Values(rec.Late))
	for _, l := range late {
		if l > t.Limit {
			t.Over++
		}
	}
	t.P50, _ = harness.Quantile(late, 0.5)
	t.P99, _ = harness.Quantile(late, 0.99)
	t.P999, _ = harness.Quantile(late, 0.999)
	t.Most = late[t.Frames-1]
	return t
}

// reactionTime is how long after a frame a board may still react to it, since decisions wait for the next turn of the
// board's loop. Common practice, no source.
const reactionTime = 100 * sim.Millisecond

// lateness is how much later than in a real flight an output at t may have come because the bench was late: the greatest
// lateness of any frame in the last reactionTime. It adds to the edge's uncertainty.
func (j *judge) lateness(t sim.Time) sim.Time {
	if !j.rec.Pace.RealTime || len(j.rec.Late) != len(j.rec.Times) {
		return 0
	}
	first, _ := slices.BinarySearch(j.rec.Times, add(t, -reactionTime))
	most := sim.Time(0)
	for i := first; i < len(j.rec.Times) && j.rec.Times[i] <= t; i++ {
		most = max(most, j.rec.Late[i])
	}
	return most
}

// lateFrames describes the frames that were sent later than the run's limit.
func (j *judge) lateFrames() string {
	t := timing(j.rec)
	switch {
	case !t.RealTime:
		return ""
	case t.Frames != len(j.rec.Times):
		return fmt.Sprintf("the lateness of %d of %d ticks is on record", t.Frames, len(j.rec.Times))
	case t.Over == 0:
		return ""
	}
	return fmt.Sprintf("%s left more than %s late, at most %s; give the bench a quieter machine, or a real-time priority",
		count(t.Over, "tick"), span(t.Limit), span(t.Most))
}

// clocks doubts a run in which a board's own clock could not be fitted, so that its outputs have the times at which they
// came in.
func (j *judge) clocks(doubt func(text, reason string)) {
	for _, c := range j.rec.Clocks {
		if c.Trouble == "" || c.Bay < 0 || c.Bay >= len(j.rec.Plan.Setup.Bays) {
			continue
		}
		edges := 0
		for _, e := range j.rec.Outputs {
			if e.Bay == c.Bay && e.Life == c.Life {
				edges++
			}
		}
		if edges > 0 {
			doubt(j.rec.Plan.Setup.Bays[c.Bay].Name+": its clock can be fitted", c.Trouble+"; "+count(edges, "edge")+" count by when they came in")
		}
	}
}
