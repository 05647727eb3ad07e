package rig

import (
	"bytes"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"drystage/harness"
	"drystage/sim"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestQuantilesAreNearestRanks(t *testing.T) {
	var l Latencies
	for i := 1000; i >= 1; i-- {
		l = append(l, time.Duration(i)*time.Microsecond)
	}
	for _, c := range []struct {
		q    float64
		want time.Duration
	}{{0.5, 500}, {0.99, 990}, {0.999, 999}, {1, 1000}, {0, 1}} {
		assert.Equal(t, c.want*time.Microsecond, l.Quantile(c.q))
	}
	assert.Equal(t, 499*time.Microsecond, l.Within(), "all but one of a thousand lie so near the median")
	assert.Zero(t, Latencies(nil).Quantile(0.5))
	text := Latencies{15e3, 15e3, 30e3, 1e9}.String()
	assert.Contains(t, text, "  to 20µs      2 ##################################################\n")
	assert.Contains(t, text, "     more      1 #########################\n")
	assert.Contains(t, text, "p50 15µs  p99 1s  p99.9 1s  max 1s  (4 edges)")
}

// The path of the capture through a real blocking wait, on simulated pins.
func TestLoopbackMeasuresARealWait(t *testing.T) {
	r, err := Open(t.Context(), simulatedSpec(""), Options{})
	require.NoError(t, err)
	defer r.Close()
	assert.Equal(t, []string{"probe"}, r.Loopbacks())
	lat, lost, err := r.Loopback(t.Context(), "probe", 40, nil)
	require.NoError(t, err)
	assert.Zero(t, lost)
	require.Len(t, lat, 40)
	for _, d := range lat {
		assert.Positive(t, d)
	}
	_, _, err = r.Loopback(t.Context(), "supply", 1, nil)
	assert.ErrorContains(t, err, `no loopback drive "supply"`)
}

func TestLoopbackCountsLostEdges(t *testing.T) {
	r, _ := opened(t) // periph's test pins: nothing is wired to the probe
	lat, lost, err := r.Loopback(t.Context(), "probe", 2, nil)
	require.NoError(t, err)
	assert.Empty(t, lat)
	assert.Equal(t, 1, lost, "on never comes; off is where the pin stands anyway, and no edge is claimed")
}

func TestKnown(t *testing.T) {
	const us, ms = sim.Microsecond, sim.Millisecond
	s := spec()
	s.Digest, s.Lasts = "d1", 86400*sim.Second
	c := &s.Boards[0].Outputs[0].Capture
	c.Delay, c.Within = 20*us, 30*us
	now := time.Date(2026, 11, 25, 12, 0, 0, 0, time.UTC)
	path := Path{Output: "sustainer.ignite", Way: "loopback", Edges: 100, P50: 10 * time.Microsecond, Within: 40 * time.Microsecond}
	good := Measured{Kind: "measurement", Rig: "d1", Host: "h", Made: now.Add(-time.Hour), Paths: []Path{path}}
	with := func(f func(m *Measured)) *Measured {
		m := good
		m.Paths = []Path{path}
		f(&m)
		return &m
	}
	for _, x := range []struct {
		reason string
		m      *Measured
		output string
		want   PathTiming
	}{
		{"median on top of the declared delay; 3-4-5 for the uncertainties", &good, "ignite", PathTiming{Delay: 30 * us, Within: 50 * us}},
		{"another pin of the same computer", &good, "drogue", PathTiming{Delay: 10 * us, Within: 40 * us}},
		{"never", nil, "drogue", PathTiming{Within: 5 * ms, Why: "the rig was never measured"}},
		{"changed", with(func(m *Measured) { m.Rig = "d0" }), "drogue", PathTiming{Within: 5 * ms, Why: "the rig's file has changed since it was measured"}},
		{"elsewhere", with(func(m *Measured) { m.Host = "k" }), "drogue", PathTiming{Within: 5 * ms, Why: "the rig was measured on another computer, k"}},
		{"old", with(func(m *Measured) { m.Made = now.Add(-49 * time.Hour) }), "drogue", PathTiming{Within: 5 * ms, Why: "the rig was measured 2 days ago"}},
		{"from the future", with(func(m *Measured) { m.Made = now.Add(49 * time.Hour) }), "drogue", PathTiming{Within: 5 * ms, Why: "the rig's measurement lies in the future; is the clock right?"}},
		{"with lost edges", with(func(m *Measured) { m.Paths[0].Lost = 3 }), "drogue", PathTiming{Within: 5 * ms, Why: "the measurement lost 3 edges at sustainer.ignite"}},
		{"another output through its board says nothing of this one", with(func(m *Measured) { m.Paths[0].Way = "board" }), "drogue", PathTiming{Within: 5 * ms, Why: "this output was never measured"}},
		{"through its board: half the way, the other half a rectangle: 2*5/sqrt(3), rounded up", with(func(m *Measured) { m.Paths[0].Way = "board" }), "ignite", PathTiming{Delay: 25 * us, Within: 50333}},
		{"a stamp behind the pin's: no delay is less than none", with(func(m *Measured) { m.Paths[0].Way, m.Paths[0].P50 = "board", -m.Paths[0].P50 }), "ignite", PathTiming{Delay: 20 * us, Within: 50333}},
		{"the more certain of the two ways", with(func(m *Measured) {
			m.Paths = append(m.Paths, Path{Output: "sustainer.ignite", Way: "board", P50: 2 * time.Microsecond, Within: 10 * time.Microsecond})
		}), "ignite", PathTiming{Delay: 21 * us, Within: 31644}},
		{"the default does not swallow the declared", nil, "ignite", PathTiming{Delay: 20 * us, Within: 5000090 * sim.Time(1), Why: "the rig was never measured"}},
	} {
		assert.Equal(t, x.want, x.m.Timing(&s, "sustainer", x.output, "h", now), x.reason)
	}
}

func TestMeasurementIsKeptBesideTheRig(t *testing.T) {
	file := filepath.Join(t.TempDir(), "shed.yaml")
	m, err := LoadMeasured(file)
	require.NoError(t, err)
	assert.Nil(t, m)
	want := Measured{Kind: "measurement", Rig: "d", Host: "h", Made: time.Unix(1e9, 0).UTC(), Paths: []Path{NewPath("sustainer.main", "loopback", Latencies{1, 2, 3}, 0)}}
	var b bytes.Buffer
	require.NoError(t, want.Write(&b))
	require.NoError(t, os.WriteFile(MeasuredFile(file), b.Bytes(), 0o644))
	m, err = LoadMeasured(file)
	require.NoError(t, err)
	assert.Equal(t, &want, m)
	for _, text := range []string{"{", `{"drystage": "rig"}`} {
		require.NoError(t, os.WriteFile(MeasuredFile(file), []byte(text), 0o644))
		_, err = LoadMeasured(file)
		assert.ErrorContains(t, err, "shed.measured.json: ")
		assert.ErrorContains(t, err, "move it away and measure again")
	}
}

func TestKeepTakesTheOtherWayOver(t *testing.T) {
	day := func(n int) time.Time { return time.Date(2026, 11, n, 0, 0, 0, 0, time.UTC) }
	loop, through := Path{Output: "a.b", Way: "loopback"}, Path{Output: "a.b", Way: "board"}
	for _, c := range []struct {
		reason string
		old    *Measured
		want   []Path
		made   time.Time
	}{
		{"nothing there", nil, []Path{through}, day(2)},
		{"the other way, and the older date counts", &Measured{Rig: "d", Host: "h", Made: day(1), Paths: []Path{loop}}, []Path{through, loop}, day(1)},
		{"the same way is replaced", &Measured{Rig: "d", Host: "h", Made: day(1), Paths: []Path{through}}, []Path{through}, day(2)},
		{"of another rig", &Measured{Rig: "e", Host: "h", Made: day(1), Paths: []Path{loop}}, []Path{through}, day(2)},
		{"of another computer", &Measured{Rig: "d", Host: "k", Made: day(1), Paths: []Path{loop}}, []Path{through}, day(2)},
	} {
		m := Measured{Rig: "d", Host: "h", Made: day(2), Paths: []Path{through}}
		m.Keep(c.old)
		assert.Equal(t, c.want, m.Paths, c.reason)
		assert.Equal(t, c.made, m.Made, c.reason)
	}
}

func TestWiring(t *testing.T) {
	s := spec()
	s.Boards[0].Outputs[2].Load = harness.Load{}
	s.Boards[0].Outputs[0].Capture.Wired = "opto <1> & \"two\""
	var table, drawing, svg strings.Builder
	require.NoError(t, WriteTable(&table, &s))
	require.NoError(t, WriteDrawing(&drawing, &s))
	require.NoError(t, WriteSVG(&svg, &s))
	for _, text := range []string{table.String(), drawing.String(), svg.String()} {
		for _, x := range []string{"P1", "P5", "output ignite", "NOT DECLARED", "separation breakwire", "loopback to ignite"} {
			assert.Contains(t, text, x)
		}
	}
	for _, c := range Cautions {
		assert.Contains(t, svg.String(), strings.ReplaceAll(c, "'", "&#39;"))
	}
	assert.Contains(t, svg.String(), "opto &lt;1&gt; &amp; &#34;two&#34;", "text of a file can't leave its place")
	wide := map[int]bool{}
	for _, line := range strings.Split(strings.TrimSpace(drawing.String()), "\n")[1:] {
		wide[len([]rune(line))] = true
	}
	assert.Len(t, wide, 1, "all lines end at the same column:\n%s", drawing.String())
}
