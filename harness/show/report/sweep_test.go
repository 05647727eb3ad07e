package report

import (
	"bytes"
	"encoding/json"
	"io"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"drystage/harness"
	"drystage/harness/judge/dispersion"
	"drystage/sim"
)

// sweeps has one in which some flights fail and some stay unsure, driven by one of two things that vary,
// and one in which all is well and nothing varied but the seed.
func sweeps() []*dispersion.Sheet {
	plan := harness.Plan{
		Name: "windy", Title: "A windy day", File: "scenarios/it's windy.yaml", Digest: "00ff", Setup: sim.Setup{Seed: 9},
		Expect: []harness.Expectation{{Text: "sustainer.ignite fires from booster.burnout + 1.5 s to booster.burnout + 2.2 s"}, {Text: "sustainer stays alive"}},
		Vary: []harness.Vary{
			{Name: "wind.speed", Unit: "m/s", Low: 0, High: 20},
			{Name: "weather.temperature", What: harness.Temperature, Unit: "K", Law: harness.Normal, Low: 213.15, High: 333.15, Mean: 288.15, Sigma: 5},
		},
	}
	bad := dispersion.NewSheet(&plan)
	for i := 1; i <= 60; i++ {
		flown := plan
		wind, other := float64(i*7%61)/3, float64(i*11%13)
		flown.Setup.Seed, flown.Set = uint64(i), []harness.Value{{Name: "wind.speed", Value: wind, Unit: "m/s"}, {Name: "weather.temperature", Value: 288.15 + other, Unit: "K"}}
		margin := 4.3 - wind/4
		f := harness.Finding{Text: plan.Expect[0].Text, Answer: harness.Pass, HasMargin: true, Margin: margin, Share: margin / 5, Unit: "s"}
		v := harness.Verdict{Answer: harness.Pass, Findings: []harness.Finding{f, {Text: plan.Expect[1].Text, Answer: harness.Pass}}}
		switch {
		case margin < -0.3:
			v.Answer, v.Findings[0].Answer = harness.Fail, harness.Fail
		case margin < 0:
			v.Answer, v.Findings[0].Answer, v.Findings[0].HasMargin = harness.Unsure, harness.Unsure, false
			v.Findings = append(v.Findings, harness.Finding{Text: "the link is whole", Answer: harness.Unsure, Reason: "2 frames \x1b[31mare missing"})
		}
		bad.Add(i, &flown, &v)
	}
	calm := plan
	calm.Name, calm.Title, calm.File, calm.Vary, calm.Setup.Seed = "calm", "A calm day", "calm.yaml", nil, math.MaxUint64
	good := dispersion.NewSheet(&calm)
	for i := 1; i <= 99; i++ {
		flown := calm
		flown.Setup.Seed = uint64(i)
		good.Add(i, &flown, &harness.Verdict{Answer: harness.Pass, Findings: []harness.Finding{
			{Text: calm.Expect[0].Text, Answer: harness.Pass, HasMargin: true, Margin: 0.8, Share: 0.5, Unit: "s"}, {Text: calm.Expect[1].Text, Answer: harness.Pass},
		}})
	}
	return []*dispersion.Sheet{bad, good}
}

var sweepFormats = map[string]func(io.Writer, []*dispersion.Sheet, Options) error{"text": Sweep, "json": SweepJSON}

func TestSweepGoldens(t *testing.T) {
	narrow := options()
	narrow.Width = 60
	for _, c := range []struct {
		name  string
		of    []*dispersion.Sheet
		write func(io.Writer, []*dispersion.Sheet, Options) error
		opt   Options
	}{{"sweep.txt", sweeps(), Sweep, options()}, {"sweep_narrow.txt", sweeps(), Sweep, narrow}, {"sweep.json", sweeps()[:1], SweepJSON, options()}} {
		var b bytes.Buffer
		require.NoError(t, c.write(&b, c.of, c.opt))
		file := filepath.Join("testdata", c.name)
		if *update {
			require.NoError(t, os.WriteFile(file, b.Bytes(), 0o644))
		}
		want, err := os.ReadFile(file)
		require.NoError(t, err)
		assert.Equal(t, string(want), b.String(), "%s: go test ./harness/show/report -update rewrites it; read the difference first", c.name)
	}
}

func TestSweepFitsItsWidth(t *testing.T) {
	for _, width := range []int{60, 80, 132} {
		var b bytes.Buffer
		require.NoError(t, Sweep(&b, sweeps(), Options{Width: width}))
		for line := range strings.Lines(b.String()) {
			line = strings.TrimSuffix(line, "\n")
			assert.Equal(t, Plain(line), line)
			if !strings.HasPrefix(line, "         repeat: ") {
				assert.LessOrEqual(t, columns(line), width, line)
			}
		}
	}
}

func TestSweepOfNothingIsAnErrorInEveryFormat(t *testing.T) {
	none := dispersion.NewSheet(&harness.Plan{Name: "x"})
	for name, write := range sweepFormats {
		assert.ErrorIs(t, write(io.Discard, nil, options()), ErrEmpty, name)
		assert.ErrorIs(t, write(io.Discard, []*dispersion.Sheet{sweeps()[0], none}, options()), ErrEmpty, name)
		assert.ErrorIs(t, write(&broken{700}, sweeps(), options()), errFull, name)
	}
}

// What a number of flights proves is said to the careful side, and without a failure as a plain bound.
func TestProof(t *testing.T) {
	rows := []struct {
		passed, n, unsure int
		want, reason      string
	}{
		{99, 99, 0, "0 failures in 99 flights prove, with 95 % confidence, that at least 97.0 % of such flights pass (one-sided; two-sided: 96.3 % to 100 %", "0.05^(1/99) = 0.97019"},
		{299, 299, 0, "at least 99.00 % of such flights", "0.05^(1/299) = 0.990031"},
		{1, 1, 0, "0 failures in 1 flight prove, with 95 % confidence, that at least 5.0 %", "one flight proves hardly anything"},
		{0, 20, 20, "passed: 0.0 %; with 95 % confidence 0.0 % to 16.9 % of such flights pass (two-sided, Clopper-Pearson). Unsure counts as not passed.", "16.843 rounds up"},
		{99999, 100000, 0, "passed: 99.99 %; with 95 % confidence 99.99 % to 100.00 %", "never all of them when one failed"},
		{13, 20, 0, "passed: 65.0 %; with 95 % confidence 40.7 % to 84.7 % of such", "SciPy: 0.40781 to 0.84609"},
	}
	for _, row := range rows {
		assert.Contains(t, proof(row.passed, row.n, row.unsure), row.want, row.reason)
	}
}

// Every number that a program may want is there, in SI.
func TestSweepJSONHoldsEveryFlight(t *testing.T) {
	var b bytes.Buffer
	require.NoError(t, SweepJSON(&b, sweeps(), Options{}))
	var got struct {
		Run    any
		Sweeps []struct {
			Passed, Failed, Unsure int
			Flown                  []struct {
				Flight  int
				Values  map[string]float64
				Margins []*float64
			}
			Expectations []struct {
				Bins []struct{ Count int }
			}
		}
	}
	require.NoError(t, json.Unmarshal(b.Bytes(), &got))
	require.Nil(t, got.Run)
	s := got.Sweeps[0]
	require.Len(t, s.Flown, 60)
	require.Equal(t, 60, s.Passed+s.Failed+s.Unsure)
	require.InDelta(t, 14.0/3, s.Flown[1].Values["wind.speed"], 1e-15)
	require.Nil(t, s.Flown[1].Margins[1])
	sum, measured := 0, 0
	for _, bin := range s.Expectations[0].Bins {
		sum += bin.Count
	}
	for _, f := range s.Flown {
		if f.Margins[0] != nil {
			measured++
		}
	}
	require.Equal(t, measured, sum)
}

// A verdict of a flight of a sweep is repeated by the sweep, whatever command shows it.
func TestAFlightOfASweepIsRepeatedByIt(t *testing.T) {
	vs := suiteOfThree()[1:2]
	vs[0].Drawn = harness.Drawn{Seed: 5, Flight: 17}
	got := text(t, Terminal, vs, options())
	assert.Contains(t, got, "  repeat: drystage sweep scenarios/early-spike.yaml --seed 5 --only 17 --board 'mock:early drogue'\n")
	assert.NotContains(t, got, "drystage bench")
}
