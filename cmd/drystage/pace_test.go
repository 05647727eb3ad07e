package main

import (
	"context"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// What cyclictest 2.4 (Debian's rt-tests) prints with --quiet --threads=1 --histogram=100, shortened.
const cyclictest = `# /dev/cpu_dma_latency set to 0us
# Histogram
000000 000000
000001 000000
000012 000003
000013 000004
000050 000001
# Total: 000000008
# Min Latencies: 00012
# Avg Latencies: 00017
# Max Latencies: 00731
# Histogram Overflows: 00002
# Histogram Overflow at cycle number:
# Thread 0: 00005 00007

`

func TestHistogram(t *testing.T) {
	us := func(n ...int) (ds []time.Duration) {
		for _, d := range n {
			ds = append(ds, time.Duration(d)*time.Microsecond)
		}
		return ds
	}
	for _, c := range []struct {
		reason string
		text   string
		want   []time.Duration
		over   int
	}{
		{"each count, and what lies beyond the table as the longest seen", cyclictest, us(12, 12, 12, 13, 13, 13, 13, 50, 731, 731), 2},
		{"nothing beyond the table", strings.Replace(cyclictest, "Overflows: 00002", "Overflows: 00000", 1), us(12, 12, 12, 13, 13, 13, 13, 50), 0},
		{"nothing at all", "", nil, 0},
		{"another program's words", "could not open /dev/cpu_dma_latency\n", nil, 0},
	} {
		late, over := histogram(c.text)
		assert.Equal(t, c.want, late, c.reason)
		assert.Equal(t, c.over, over, c.reason)
	}
}

// TestMeasured: percentiles by nearest rank, as everywhere in this house.
func TestMeasured(t *testing.T) {
	m := measured{way: "some way", busy: 0.057, note: "how"}
	for i := range 1000 {
		m.late = append(m.late, time.Duration(i+1)*time.Microsecond)
	}
	var out strings.Builder
	m.print(&console{out: &out})
	assert.Equal(t, "some way                                500      990      999     1000  5.7 %\n  how\n", out.String())
	out.Reset()
	(&measured{way: "no way", note: "not installed"}).print(&console{out: &out})
	assert.Equal(t, "no way                             not installed\n", out.String())
}

// TestWallPaceStops: an interruption ends a measurement soon, and gives back what it took.
func TestWallPaceStops(t *testing.T) {
	ctx, stop := context.WithCancel(t.Context())
	stop()
	var out strings.Builder
	err := (&paceCmd{Rate: 1000, For: time.Hour, Quiet: true}).Run(&console{ctx: ctx, out: &out, err: &out})
	require.ErrorIs(t, err, context.Canceled)
	assert.NotContains(t, out.String(), "drystage, ordinary")
}
