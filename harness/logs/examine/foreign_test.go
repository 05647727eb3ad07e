package examine

import (
	"bytes"
	"fmt"
	"math"
	"os"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"drystage/harness/logs"
	"drystage/harness/logs/logtest"
	"drystage/sim"
)

// demands is what is asked of many logs of the second source.
type demands struct {
	logs               int
	phases, found      float64 // least share
	alarmed, uncertain float64 // most share of clean logs with a false finding; least share of phases in their stated uncertainty
}

// demanded gives the number of logs, and what is asked of them: a few in the usual tests, which hold what is
// reached; with DRYSTAGE_LOGS=500, by `make logs`, all that should be.
func demanded(t *testing.T, usual demands) demands {
	s := os.Getenv("DRYSTAGE_LOGS")
	if s == "" {
		return usual
	}
	n, err := strconv.Atoi(s)
	require.NoError(t, err, "DRYSTAGE_LOGS")
	return demands{logs: n, phases: 0.97, found: 0.95, alarmed: 0.05, uncertain: 0.93}
}

// firstSeed is where the seeds of many logs begin: other ones with DRYSTAGE_SEED, to see what is not tuned on.
func firstSeed(t testing.TB) uint64 {
	s := os.Getenv("DRYSTAGE_SEED")
	if s == "" {
		return 0
	}
	n, err := strconv.ParseUint(s, 10, 32)
	require.NoError(t, err, "DRYSTAGE_SEED")
	return n
}

// foreign gives the recipe of a seed: what an estimator of flights may expect, an accelerometer or a barometer and
// the pad before it.
func foreign(seed uint64) logtest.Recipe {
	r := logtest.Draw(seed)
	r.OneAxis = false
	return r
}

// foreignLog reads a log of the second source.
func foreignLog(t *testing.T, l *logtest.Log) *logs.Log {
	text, _ := l.Write(logtest.Plain())
	got, err := logs.ReadText(bytes.NewReader(text), "x.csv", nil, logs.Options{}, nil)
	require.NoError(t, err)
	return got
}

// score is what examining many logs gave.
type score struct {
	phases, good, within int // good: within 0.1 s or the stated uncertainty; within: in the latter
	extra                int // phases that never were
	logs, alarmed        int
	odd, found           map[logtest.Kind]int
	open                 map[logtest.Kind]int            // found, but its cause is left open
	taken                map[logtest.Kind]map[string]int // what those not found were taken for
	lines                []string
}

// openBelief is the share of belief below which a cause is not decided.
const openBelief = 0.75

func (y *score) note(format string, a ...any) { y.lines = append(y.lines, fmt.Sprintf(format, a...)) }

// take scores the result of one log.
func (y *score) take(name string, truth *logtest.Truth, r *Result) {
	y.logs++
	used := make([]bool, len(r.Moments))
	for _, p := range truth.Phases {
		y.phases++
		i := slices.IndexFunc(r.Moments, func(m Moment) bool { return m.Event == p.Event && (m.Number == p.Number || p.Number == 0) })
		if i < 0 {
			y.note("%s: no %s %d at %.3f s", name, p.Event, p.Number, p.At)
			continue
		}
		used[i] = true
		d := r.Moments[i].At - p.At
		if math.Abs(d) <= r.Moments[i].Within {
			y.within++
		}
		if math.Abs(d) <= max(0.1, r.Moments[i].Within) {
			y.good++
		}
		if math.Abs(d) > r.Moments[i].Within {
			y.note("%s: %s %d off by %.4f +- %.4f s (open by %.3f), told by %s", name, p.Event, p.Number, d, r.Moments[i].Within, p.Soft, r.Moments[i].From)
		}
	}
	for i, m := range r.Moments {
		if !used[i] {
			y.extra++
			y.note("%s: a %s at %.3f s that never was", name, m.Name(), m.At)
		}
	}
	y.findings(name, truth, r)
}

// findings scores what was said to be odd.
func (y *score) findings(name string, truth *logtest.Truth, r *Result) {
	used := make([]bool, len(r.Findings))
	for _, a := range truth.Anomalies {
		y.odd[a.Kind]++
		hit := false
		for i := range r.Findings {
			if f := &r.Findings[i]; told(a, f) {
				if !hit && f.Explanations[0].Share < openBelief {
					y.open[a.Kind]++
				}
				used[i], hit = true, true
			}
		}
		if a.Kind == logtest.Wrap16 {
			hit = hit || slices.ContainsFunc(r.Log.Notes, func(n logs.Note) bool { return n.Kind == logs.Wrapped })
		}
		if hit {
			y.found[a.Kind]++
		} else {
			as := takenFor(a, r.Findings)
			if y.taken[a.Kind] == nil {
				y.taken[a.Kind] = map[string]int{}
			}
			y.taken[a.Kind][as]++
			y.note("%s: missed %s of the %s at %.3f to %.3f s, %.4g; found %s", name, a.Kind, a.Part, a.At, a.Until, a.Size, list(r.Findings))
		}
	}
	alarm := false
	for i := range r.Findings {
		f := &r.Findings[i]
		late := f.Kind == Latency && math.Abs(f.Size) < 0.12 // every receiver here is late by up to 0.08 s
		if !used[i] && !late && !f.Real() && f.Explanations[0].Cause != Pressured {
			alarm = true
			y.note("%s: said of a sensor: %s", name, list(r.Findings[i:i+1]))
		}
	}
	if alarm {
		y.alarmed++
	}
}

// takenFor names what is found where an anomaly lies that is not told, of its own part where there is such.
func takenFor(a logtest.Anomaly, fs []Finding) string {
	as := "nothing"
	for i := range fs {
		f := &fs[i]
		if f.From > a.Until+0.5 || f.Until < a.At-0.5 {
			continue
		}
		part := "log"
		if f.Part != sim.NoPart {
			part = sim.PartNames()[f.Part-1]
		}
		if p, ok := foreignParts[a.Part]; ok && p == f.Part {
			return fmt.Sprintf("%s of the %s", f.Kind, part)
		}
		as = fmt.Sprintf("%s of the %s", f.Kind, part)
	}
	return as
}

// parts of the second source's words.
var foreignParts = map[string]sim.Part{"accelerometer": sim.PartAccel, "gyro": sim.PartGyro, "barometer": sim.PartBaro, "gnss": sim.PartGNSS, "battery": sim.PartBattery}

// told says that a finding tells of an anomaly: the part, the kind and the time.
func told(a logtest.Anomaly, f *Finding) bool {
	kinds := map[logtest.Kind][]Kind{
		logtest.Spike: {Spike}, logtest.Step: {Step}, logtest.Stuck: {Stuck}, logtest.Dropout: {Dropout}, logtest.Drift: {Drift}, logtest.Noise: {NoiseBurst},
		logtest.GNSSJump: {Step}, logtest.GNSSLoss: {Dropout}, logtest.Gap: {Dropout}, logtest.Latency: {Latency}, logtest.Clipped: {Clipped},
		logtest.Jump:   {ClockJump},
		logtest.Charge: {Spike, Step, NoiseBurst}, logtest.Sag: {Step, Spike}, logtest.Vent: {Latency, Drift, Step}, logtest.Transonic: {Spike, Step},
	}
	if !slices.Contains(kinds[a.Kind], f.Kind) {
		return false
	}
	if p, ok := foreignParts[a.Part]; ok && p != f.Part {
		return false
	}
	if a.Kind == logtest.Latency || a.Kind == logtest.Vent {
		return true
	}
	if a.Kind == logtest.Clipped { // it comes and goes with the vibration
		return f.From < a.Until && f.Until > a.At
	}
	if a.Kind == logtest.Jump {
		return math.Abs(f.Until-a.At) < 0.25
	}
	slack := 0.25 + 0.3*a.Length
	return math.Abs(f.From-a.At) < slack && (a.Kind == logtest.Charge || math.Abs(f.Until-a.Until) < slack)
}

// run examines the logs of recipes, some at a time.
func (y *score) run(t *testing.T, n int, recipe func(i int) (string, logtest.Recipe)) {
	y.odd, y.found, y.open, y.taken = map[logtest.Kind]int{}, map[logtest.Kind]int{}, map[logtest.Kind]int{}, map[logtest.Kind]map[string]int{}
	type examined struct {
		name  string
		truth *logtest.Truth
		r     *Result
		err   error
	}
	all := make([]examined, n)
	t.Run("logs", func(t *testing.T) {
		for i := range n {
			name, r := recipe(i)
			t.Run(name, func(t *testing.T) {
				t.Parallel()
				l := logtest.Fly(r)
				res, err := Examine(foreignLog(t, l), Options{})
				all[i] = examined{name, &l.Truth, res, err}
			})
		}
	})
	for _, x := range all {
		if x.err != nil {
			y.logs++
			y.phases += len(x.truth.Phases)
			y.note("%s: %v", x.name, x.err)
			continue
		}
		y.take(x.name, x.truth, x.r)
	}
	slices.Sort(y.lines)
	for _, s := range y.lines {
		t.Log(s)
	}
}

func percent(n, of int) string {
	return fmt.Sprintf("%d of %d (%.1f %%)", n, of, 100*float64(n)/float64(max(of, 1)))
}

// TestForeignClean: phases of clean logs of the second source, at vibrations of 0 to 30 m/s2 and all rates.
func TestForeignClean(t *testing.T) {
	want, y := demanded(t, demands{logs: 5, phases: 0.97, alarmed: 0.05, uncertain: 0.93}), &score{}
	y.run(t, want.logs, func(i int) (string, logtest.Recipe) {
		r := foreign(firstSeed(t) + uint64(i))
		return fmt.Sprintf("%d st%d %gHz %.1fm/s2 clip%.0f", i, r.Stages, r.Rate, r.Vibration, r.Clip), r
	})
	t.Logf("clean logs: phases right in %s, in their stated uncertainty %s, invented %d; logs with a false finding %s", percent(y.good, y.phases), percent(y.within, y.phases), y.extra, percent(y.alarmed, y.logs))
	var kinds []string
	for k, n := range y.odd {
		kinds = append(kinds, fmt.Sprintf("%s %s", k, percent(y.found[k], n)))
	}
	slices.Sort(kinds)
	t.Logf("what happened to them: %s", strings.Join(kinds, ", "))
	assert.GreaterOrEqual(t, float64(y.good), want.phases*float64(y.phases))
	assert.GreaterOrEqual(t, float64(y.within), want.uncertain*float64(y.phases))
	assert.LessOrEqual(t, float64(y.alarmed), want.alarmed*float64(y.logs))
}

// spoiltKinds are the anomalies of which one is added to each log.
var spoiltKinds = []logtest.Kind{logtest.Spike, logtest.Step, logtest.Stuck, logtest.Dropout, logtest.Gap, logtest.Drift, logtest.Noise, logtest.Latency, logtest.Jump, logtest.GNSSJump, logtest.GNSSLoss, logtest.Charge, logtest.Sag, logtest.Vent}

// spoiltRecipe is the recipe of a log with one anomaly, with a name.
func spoiltRecipe(first uint64, i int) (string, logtest.Recipe) {
	r := foreign(first + uint64(10000+i))
	k := spoiltKinds[i%len(spoiltKinds)]
	r.GNSS = r.GNSS || k == logtest.Latency || k == logtest.GNSSJump || k == logtest.GNSSLoss
	r.Battery = r.Battery || k == logtest.Sag
	r.Charge = 0
	r.Add(k)
	return fmt.Sprintf("%d %s st%d %gHz %.1fm/s2", i, strings.ReplaceAll(string(k), " ", "-"), r.Stages, r.Rate, r.Vibration), r
}

// TestForeignSpoilt: anomalies of all kinds, one a log.
func TestForeignSpoilt(t *testing.T) {
	kinds := spoiltKinds
	want, y := demanded(t, demands{logs: len(kinds), phases: 0.97, found: 0.9, uncertain: 0.93}), &score{}
	y.run(t, want.logs, func(i int) (string, logtest.Recipe) { return spoiltRecipe(firstSeed(t), i) })
	all, found := 0, 0
	for _, k := range append(kinds, logtest.Clipped) {
		all, found = all+y.odd[k], found+y.found[k]
		t.Logf("%-12s found and rightly classed %s, of them with an open cause %d, else taken for %v", k, percent(y.found[k], y.odd[k]), y.open[k], y.taken[k])
	}
	t.Logf("spoilt logs: anomalies %s, phases %s, in their stated uncertainty %s", percent(found, all), percent(y.good, y.phases), percent(y.within, y.phases))
	assert.GreaterOrEqual(t, float64(found), want.found*float64(all))
	assert.GreaterOrEqual(t, float64(y.good), want.phases*float64(y.phases))
	assert.GreaterOrEqual(t, float64(y.within), want.uncertain*float64(y.phases))
}

// pairWanted is how many of a hundred pairs must be right.
const pairWanted = 0.97

// pairRecipe is the recipe of a pair's brake (k 0), or of what a sensor makes up in its place (k 1).
func pairRecipe(first uint64, i, n, k int) (r logtest.Recipe, after float64) {
	r = foreign(first + uint64(30000+i))
	r.Stages, r.Clip, r.Charge, r.GNSS = 1, 0, 0, i%2 == 0
	r.Rate = max(r.Rate, 100)
	r.Thrust[0] = logtest.Curve(i % 2) // the end of the thrust is where the burnout is
	after = 0.1 + 1.9*float64(i)/float64(max(n-1, 1))
	if k == 0 {
		r.Brake = logtest.Brake{After: after, Length: 0.15, Size: 100}
		return r, after
	}
	r.Anomalies = []logtest.Anomaly{{Kind: logtest.Step, Part: "accelerometer", Axis: 0, Event: "burnout", Offset: after, Length: 0.15, Size: -100}}
	if r.Down {
		r.Anomalies[0].Size = 100
	}
	return r, after
}

// TestForeignPairs: the same 100 m/s2 for 0.15 s, at 0.1 to 2 s after the burnout, once by an air brake and once made up
// by the sensor. Only what the rocket did afterwards tells them apart.
func TestForeignPairs(t *testing.T) {
	n := demanded(t, demands{logs: 4}).logs
	n = min(n, 100)
	all := make([][2]*Result, n)
	at := make([]float64, n)
	t.Run("logs", func(t *testing.T) {
		for i := range n {
			t.Run(strconv.Itoa(i), func(t *testing.T) {
				t.Parallel()
				for k := range 2 {
					r, after := pairRecipe(firstSeed(t), i, n, k)
					l := logtest.Fly(r)
					at[i], _ = l.Truth.When("burnout", 1)
					at[i] += after
					res, err := Examine(foreignLog(t, l), Options{})
					require.NoError(t, err)
					all[i][k] = res
				}
			})
		}
	})
	right, sure := 0, 0
	for i, pair := range all {
		for k, r := range pair {
			real, belief, found := saidOf(r, at[i])
			switch {
			case real == (k == 0):
				right++
			case belief > 0.9:
				sure++
				fallthrough
			default:
				t.Logf("%d at %.2f s, %s: real %v with %.2f, found %v: %s", i, at[i], []string{"a brake", "made up"}[k], real, belief, found, list(r.Findings))
			}
		}
	}
	t.Logf("right %s, wrong with more than 90 %% of belief %d", percent(right, 2*n), sure)
	assert.GreaterOrEqual(t, float64(right), pairWanted*float64(2*n))
	assert.Zero(t, sure)
}

// saidOf is what a result says of a deceleration of 0.15 s at an instant, by the finding that lies closest to it: the drag
// around it may be one, too. That nothing is odd there means that it was real.
func saidOf(r *Result, at float64) (real bool, belief float64, found bool) {
	real, belief = true, 0.99
	least := math.Inf(1)
	for i := range r.Findings {
		f := &r.Findings[i]
		off := math.Abs(f.From-at) + math.Abs(f.Until-at-0.15)
		if f.Part == sim.PartAccel && f.From < at+0.3 && f.Until > at-0.1 && f.Size*f.Size > 900 && off < least {
			least, real, belief, found = off, f.Real(), f.Explanations[0].Share, true
		}
	}
	return real, belief, found
}
