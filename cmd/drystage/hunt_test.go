package main

import (
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"drystage/harness"
	"drystage/harness/judge/hunt"
	"drystage/harness/judge/verdict"
	"drystage/scenarios"
)

// seaLevelDay is a good flight on days of any pressure at the pad near the standard one, in some wind.
const seaLevelDay = `drystage: scenario
like: nominal.yaml
title: Any pressure at the pad
vary:
  - {of: wind.speed, between: [1 m/s, 4.5 m/s]}
  - {of: weather.pressure, between: [1009 hPa, 1016 hPa]}
  - {of: booster.drag, between: [0.95, 1.05]}
set:
  - {of: sustainer.mass, is: 645 g}
weather:
  pressure: 1013 hPa
  wind: {speed: 3 m/s, from: 250 deg, height: 10 m, exponent: 0.143}
`

// huntIn hunts in a scenario beside the shipped ones, and gives what it found and printed.
func huntIn(t *testing.T, text string, c huntCmd) (*hunter, string, int) {
	slow(t)
	dir := t.TempDir()
	require.NoError(t, os.CopyFS(dir, scenarios.Files))
	c.Scenario, c.Write, c.Format, c.Jobs, c.Timeout = filepath.Join(dir, "hunted.yaml"), filepath.Join(dir, "worst.yaml"), "text", 2, 2e9
	require.NoError(t, os.WriteFile(c.Scenario, []byte(text), 0o644))
	var out, errs strings.Builder
	d := &console{ctx: t.Context(), out: &out, err: &errs}
	h, err := c.prepare(d)
	require.NoError(t, err)
	defer func() { require.NoError(t, h.close(nil)) }()
	require.NoError(t, c.hunt(h))
	left := passed
	if err := c.report(d, h.find, "hunted.yaml"); err != nil {
		left = printError(err, d.err)
	}
	require.Empty(t, errs.String())
	return h, out.String(), left
}

// again flies the scenario that a hunt wrote, as bench does.
func again(t *testing.T, h *hunter, address string) harness.Verdict {
	return verdict.Judge(flyOn(t, plansOf(t, filepath.Join(filepath.Dir(h.find.Plan.File), "worst.yaml"))[0], address))
}

// bare leaves out of findings where they stand.
func bare(v harness.Verdict) (out []harness.Finding) {
	for _, f := range v.Findings {
		f.Place = harness.Place{}
		out = append(out, f)
	}
	return out
}

// A board that takes heights above the sea opens the main at 150 m less the height of the pad by pressure. The window
// is 25 m to both sides of 150 m, so the flight fails where the standard atmosphere (ISO 2533: 44330.8 m times
// (1 - (p / 1013.25 hPa) ^ 0.190263), from memory) puts the pad more than 25 m from the sea's level: below about 1010.2 hPa, by
// the 60 Pa of the barometer's bias below 1009.6 hPa. That is a twelfth of the range: random flights would need
// about twelve.
func TestHuntFindsAKnownRegion(t *testing.T) {
	pad := func(p float64) float64 { return 44330.8 * (1 - math.Pow(p/101325, 0.190263)) }
	edge := 101325*math.Pow(1-25/44330.8, 1/0.190263) - 60
	require.InDelta(t, 25, pad(edge+60), 1e-6)
	share := (edge - 100900) / (101600 - 100900)
	require.Less(t, share, 0.1, "the chance that a random flight fails")

	h, out, left := huntIn(t, seaLevelDay, huntCmd{Flights: 24, Seeds: 1, Expect: "sustainer.main fires from", boardFlags: boardFlags{benchFlags: benchFlags{Board: []string{"mock:height-above-sea-level"}}}})
	require.Equal(t, failed, left, out)
	first := slices.IndexFunc(h.find.Flights, func(f hunt.Flight) bool { return f.Scores[h.find.Criterion].Answer == harness.Fail }) + 1
	t.Logf("random flights would need %.0f on average; the hunt needed %d", 1/share, first)
	assert.Less(t, first, 6)
	require.Len(t, h.find.Case.Values, 1, out)
	x := h.find.Case.Values[0]
	assert.Equal(t, "weather.pressure", x.Name)
	assert.Less(t, x.Value, edge+70, "70 Pa are 6 m: the board sees the height late")
	require.True(t, h.find.Edge.Found)
	assert.InDelta(t, edge, (h.find.Edge.Before.Value+h.find.Edge.After.Value)/2, 70, "where the answer changes, within 6 m")
	t.Logf("the answer changes at %.0f Pa; in closed form at %.0f Pa", h.find.Edge.After.Value, edge)
	assert.Contains(t, out, "Tried, and not needed for this: wind.speed, booster.drag.")
	assert.Equal(t, bare(h.find.Verdict), bare(again(t, h, "mock:height-above-sea-level")), "the written scenario flies the same, to the last digit")
}

// The honest board passes all of that; the hunt says how close it came, and that this is no proof.
func TestHuntWithoutAFailure(t *testing.T) {
	h, out, left := huntIn(t, seaLevelDay, huntCmd{Flights: 20, Seeds: 2})
	require.Equal(t, passed, left, out)
	assert.Contains(t, out, "That is no proof")
	assert.Contains(t, out, "20 passed, 0 failed, 0 unsure")
	v := again(t, h, "mock")
	assert.Equal(t, bare(h.find.Verdict), bare(v))
	assert.Equal(t, harness.Pass, v.Answer)
}

// However many flights go on at once, the hunt is the same, to the byte.
func TestHuntRepeats(t *testing.T) {
	slow(t)
	dir := t.TempDir()
	require.NoError(t, os.CopyFS(dir, scenarios.Files))
	name := filepath.Join(dir, "hunted.yaml")
	require.NoError(t, os.WriteFile(name, []byte(seaLevelDay), 0o644))
	var first string
	for _, jobs := range []string{"1", "3"} {
		var out, errs strings.Builder
		require.Equal(t, passed, execute([]string{"hunt", name, "--flights", "7", "--jobs", jobs}, &console{ctx: t.Context(), out: &out, err: &errs}), errs.String())
		if first == "" {
			first = out.String()
		}
		assert.Equal(t, first, out.String())
	}
}

// manyFaults are mild ones, of which one, made strong, is what a known defect falls for.
const manyFaults = `drystage: scenario
like: ejection-spike.yaml
title: Many faults at once
until: sustainer.drogue + 5 s
faults:
  - {spike: sustainer.accelerometer, axis: x, from: booster.burnout + 30 ms, for: 10 ms, by: -20 m/s2}
  - {duplicated: sustainer.barometer, from: liftoff, for: 2 s}
  - {noise_burst: sustainer.accelerometer, axis: y, from: liftoff, for: 1 s, by: 0.5 m/s2}
  - {spike: sustainer.barometer, from: sustainer.drogue + 40 ms, for: 60 ms, by: 10 Pa}
  - {delayed: sustainer.gnss, from: liftoff, for: 5 s, by: 100 ms}
  - {jittered: sustainer.accelerometer, from: liftoff, for: 2 s, by: 1 ms}
  - {drift: sustainer.barometer, from: liftoff, for: 2 s, by: 1 Pa/s}
  - {spike: sustainer.gyro, axis: x, from: booster.burnout + 30 ms, for: 10 ms, by: 1 deg/s}
expect:
  - {never: sustainer.main}
vary:
  - {of: spike.2.by, between: [10 Pa, 20000 Pa]}
  - {of: spike.2.from, between: [20 ms, 2 s]}
  - {of: drift.by, between: [1 Pa/s, 3 Pa/s]}
`

// When and how strongly faults strike is searched, and of eight faults only the one that is needed stays in the shrunk file.
func TestHuntLeavesOutFaultsThatAreNotNeeded(t *testing.T) {
	h, out, code := huntIn(t, manyFaults, huntCmd{Flights: 12, Seeds: 1, boardFlags: boardFlags{benchFlags: benchFlags{Board: []string{"mock:main-on-pressure-spike"}}}})
	require.Equal(t, failed, code, out)
	require.Equal(t, []string{"spike.1", "duplicated", "noise_burst", "delayed", "jittered", "drift", "spike.3"}, h.find.Case.Without)
	require.Contains(t, out, "without: [spike.1, duplicated, noise_burst, delayed, jittered, drift, spike.3]")
	require.Contains(t, out, "{of: spike.2.by, is: 20000 Pa}")
	plan := plansOf(t, h.cmd.Write)[0]
	require.Len(t, plan.Setup.Faults, 1)
	status, text, _ := do(t, "bench", h.cmd.Write, "--quiet", "--board", "mock:main-on-pressure-spike")
	require.Equal(t, failed, status, text)
	status, text, _ = do(t, "bench", h.cmd.Write, "--quiet")
	require.Equal(t, passed, status, text)
}
