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

// answers writes the slowest answer of all boards that have a processor or a process of their own, by the share of its
// limit.
func (p *page) answers(vs []harness.Verdict) {
	var worst *harness.Answers
	name, boards := "", 0
	for i := range vs {
		for k := range vs[i].Boards {
			a := &vs[i].Boards[k].Answers
			if a.Limit == 0 {
				continue
			}
			boards++
			if worst == nil || ownShare(a) > ownShare(worst) {
				worst, name = a, fmt.Sprintf("%s, board %d (%s)", vs[i].Name, k+1, vs[i].Boards[k].Name)
			}
		}
	}
	if worst == nil {
		return
	}
	p.line("")
	p.item("answers   ", len("answers   "), Plain(fmt.Sprintf("the slowest of %s: %s", plural(boards, "board"), name))+": "+Slowest(worst))
}

// ownShare is the share of its limit that a board's slowest answer took by itself.
func ownShare(a *harness.Answers) float64 { return float64(a.Slowest-a.Bench) / float64(a.Limit) }

// Slowest tells how long a board's answers took.
func Slowest(a *harness.Answers) string {
	text := fmt.Sprintf("%s at %s; the limit is %s", shortTime(a.Slowest), a.At, shortTime(a.Limit))
	if a.Bench > 0 {
		text += fmt.Sprintf(" and %s that the bench itself may have added", shortTime(a.Bench))
	}
	return text
}

// Lateness tells how late the frames of a real-time run left.
func Lateness(t *harness.Timing) string {
	return fmt.Sprintf("%d instants left %s late (p50), %s (p99), %s (p99.9), %s at most; the limit is %s",
		t.Frames, shortTime(t.P50), shortTime(t.P99), shortTime(t.P999), shortTime(t.Most), shortTime(t.Limit))
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
		name, shortTime(c.Offset), c.Drift*1e6, shortTime(c.Within), c.Used, c.Readings, shortTime(c.Delay))
}

// shortTime prints a short time in the unit that suits it.
func shortTime(t sim.Time) string {
	switch a := max(t, -t); {
	case a >= sim.Second:
		return strconv.FormatFloat(t.Seconds(), 'f', 3, 64) + " s"
	case a >= sim.Millisecond:
		return strconv.FormatFloat(t.Seconds()*1e3, 'f', 2, 64) + " ms"
	}
	return strconv.FormatFloat(t.Seconds()*1e6, 'f', 0, 64) + " us"
}
