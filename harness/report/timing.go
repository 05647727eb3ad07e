package report

import (
	"fmt"
	"strconv"

	"drystage/harness"
	"drystage/sim"
)

// timing writes how well a real-time run was paced, and how well each board's clock is known.
func (p *page) timing(vs []harness.Verdict) {
	for i := range vs {
		v := &vs[i]
		if !v.Timing.RealTime {
			continue
		}
		p.line("")
		p.item("real time ", len("real time "), Plain(v.Name)+": "+Lateness(&v.Timing))
		p.item("          ", len("real time "), Plain(v.Timing.How))
		for _, c := range v.Clocks {
			p.item("          ", len("real time "), Plain(BoardClock(v, &c)))
		}
	}
}

// Lateness tells how late the frames of a real-time run left.
func Lateness(t *harness.Timing) string {
	return fmt.Sprintf("%d instants left %s late (p50), %s (p99), %s (p99.9), %s at most; the limit is %s",
		t.Frames, brief(t.P50), brief(t.P99), brief(t.P999), brief(t.Most), brief(t.Limit))
}

// BoardClock tells what is known of a board's own clock.
func BoardClock(v *harness.Verdict, c *harness.BoardClock) string {
	name := fmt.Sprintf("board %d", c.Bay+1)
	if c.Bay >= 0 && c.Bay < len(v.Boards) && v.Boards[c.Bay].Name != "" {
		name += " (" + v.Boards[c.Bay].Name + ")"
	}
	if c.Life > 1 {
		name += fmt.Sprintf(", start %d", c.Life)
	}
	if c.Trouble != "" {
		return name + ": " + c.Trouble
	}
	return fmt.Sprintf("%s: clock off by %s, drifts %+.1f ppm, known to +- %s; %d of %d readings used, shortest way there and back %s",
		name, brief(c.Offset), c.Drift*1e6, brief(c.Within), c.Used, c.Readings, brief(c.Delay))
}

// brief prints a short time in the unit that suits it.
func brief(t sim.Time) string {
	switch a := max(t, -t); {
	case a >= sim.Second:
		return strconv.FormatFloat(t.Seconds(), 'f', 3, 64) + " s"
	case a >= sim.Millisecond:
		return strconv.FormatFloat(t.Seconds()*1e3, 'f', 2, 64) + " ms"
	}
	return strconv.FormatFloat(t.Seconds()*1e6, 'f', 0, 64) + " us"
}
