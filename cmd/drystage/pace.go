package main

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"drystage/harness/rig"
	"drystage/harness/run/loop"
	"drystage/sim"
)

// paceCmd measures the timing accuracy of this machine, for real-time runs.
type paceCmd struct {
	Rate  int           `default:"1000" help:"Deadlines per second."`
	For   time.Duration `default:"10s" help:"How long each way is measured."`
	Spin  time.Duration `default:"50us" help:"The last part of each wait is spent awake."`
	Quiet bool          `short:"q" help:"Only our own ways, without the C loop for comparison."`
}

// Help gives the text below the first line of the command's help.
func (c *paceCmd) Help() string {
	return "Each way waits for absolute deadlines and is measured by how late it is awake again; deadlines that pass during one " +
		"delay count as that one. Where cyclictest is installed (Debian: rt-tests), its loop in C is measured in turn on the same machine. Nothing is sent to any board."
}

// measured is the result of one way of waiting.
type measured struct {
	way  string
	late []time.Duration
	busy float64 // share of one core
	note string
}

// Run measures each way in turn.
func (c *paceCmd) Run(d *console) error {
	if c.Rate < 1 || c.Rate > 20000 || c.For < 100*time.Millisecond || c.For.Seconds()*float64(c.Rate) > 10e6 || c.Spin < 0 {
		return wrongUse("pace: wanted --rate 1 to 20000, --for at least 100ms and 10 million deadlines at most, and --spin not below 0")
	}
	ways := []func(*console) (measured, error){c.measureOwn(false), c.measureCyclictest(true), c.measureOwn(true), c.measureCyclictest(false)}
	if c.Quiet {
		ways = []func(*console) (measured, error){c.measureOwn(false), c.measureOwn(true)}
	}
	sayf(d.out, "%d deadlines per second, %s each; lateness in microseconds\n\n", c.Rate, c.For)
	sayf(d.out, "%-34s %8s %8s %8s %8s  %s\n", "way", "p50", "p99", "p99.9", "most", "of a core")
	for _, way := range ways {
		m, err := way(d)
		if err != nil {
			return err
		}
		m.print(d)
	}
	return nil
}

func (m *measured) print(d *console) {
	if len(m.late) == 0 {
		sayf(d.out, "%-34s %s\n", m.way, m.note)
		return
	}
	us := func(q float64) int64 { return rig.Latencies(m.late).Quantile(q).Microseconds() }
	sayf(d.out, "%-34s %8d %8d %8d %8d  %.1f %%\n", m.way, us(0.5), us(0.99), us(0.999), us(1), m.busy*100)
	if m.note != "" {
		sayf(d.out, "  %s\n", m.note)
	}
}

// measureOwn measures the pacing of this program.
func (c *paceCmd) measureOwn(ordinary bool) func(*console) (measured, error) {
	return func(d *console) (measured, error) {
		spin := sim.Time(c.Spin)
		if spin == 0 {
			spin = -1
		}
		p := loop.NewRealTime(loop.RealTimeOptions{Spin: spin, Ordinary: ordinary})
		defer p.Done()
		m := measured{way: "drystage, real-time priority", late: make([]time.Duration, 0, int(c.For.Seconds()*float64(c.Rate)))}
		if ordinary {
			m.way = "drystage, ordinary"
		}
		period := sim.Second / sim.Time(c.Rate)
		if _, err := p.Wait(d.ctx, 0); err != nil {
			return m, status{unsure, err}
		}
		busy := cpuTimeSince(0)
		for k := 1; k <= cap(m.late); {
			late, err := p.Wait(d.ctx, sim.Time(k)*period)
			if err != nil {
				return m, status{unsure, errorf("interrupted after %d deadlines", k-1)}
			}
			m.late = append(m.late, time.Duration(late))
			k += 1 + int(late/period) // what has passed meanwhile is one delay, as in the C loop
		}
		m.busy = cpuTimeSince(busy).Seconds() / c.For.Seconds()
		m.note = p.Pace().How
		return m, nil
	}
}

// histogram reads the histogram of cyclictest: lines of microseconds and counts. Values beyond it count as the longest.
func histogram(text string) (late []time.Duration, over int) {
	var most int
	for line := range strings.Lines(text) {
		var us, n int
		if k, _ := fmt.Sscanf(line, "%d %d", &us, &n); k == 2 {
			late = append(late, slices.Repeat([]time.Duration{time.Duration(us) * time.Microsecond}, n)...)
		}
		_, _ = fmt.Sscanf(line, "# Histogram Overflows: %d", &over)
		_, _ = fmt.Sscanf(line, "# Max Latencies: %d", &most)
	}
	late = append(late, slices.Repeat([]time.Duration{time.Duration(most) * time.Microsecond}, over)...)
	slices.Sort(late)
	return late, over
}
