package examine

import (
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"slices"
	"sort"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"drystage/harness"
	"drystage/harness/files/scenario"
	"drystage/harness/logs"
	"drystage/sim"
	"drystage/sim/fault"
	"drystage/sim/flight"
	"drystage/sim/sensor"
)

// flown is a flight of which logs can be made again and again, with other noise and other faults.
type flown struct {
	setup   sim.Setup
	times   []sim.Time
	states  []sim.State // of the board's stage
	shocks  []sim.Shock // what short pulses do to it
	events  []sim.Event
	charges []sim.Time // when charges beside the board fired
}

func loaded(t testing.TB, vehicle string) sim.Setup {
	plan, problems := scenario.Load(os.DirFS("../../../scenarios"), "nominal.yaml")
	require.Empty(t, problems)
	s := plan.Setup
	if vehicle != "" {
		other, problems := scenario.Load(os.DirFS("../../../scenarios"), vehicle)
		require.Empty(t, problems)
		s.Vehicle = other.Setup.Vehicle
	}
	s.Bays = s.Bays[:1]
	s.Commands, s.Crossings = nil, nil
	return s
}

// fly flies a setup; a board of the test's own fires everything when it should.
func fly(s sim.Setup) flown {
	out := flown{setup: s}
	f, ticks, stage := flight.New(&s), sensor.New(s.Seed, &s, 0), s.Bays[0].Stage
	did, end := map[int]bool{}, sim.Never
	once := func(channel int, now sim.Time) {
		if did[channel] {
			return
		}
		did[channel] = true
		for _, w := range s.Bays[0].Wires {
			if w.Channel != channel {
				continue
			}
			f.SetOutput(w.Effect, true)
			if w.Effect.Kind == sim.Deploy {
				out.charges = append(out.charges, now+s.Vehicle.Stages[w.Effect.Stage].Recovery[w.Effect.Device].Pulse)
			}
		}
	}
	var frame sim.Frame
	for now := sim.Time(0); now < min(end, 300*sim.Second); now = ticks.Next() {
		f.AdvanceTo(now)
		st := f.States()[stage]
		out.times, out.states, out.shocks = append(out.times, now), append(out.states, st), append(out.shocks, f.Shocks()[stage])
		frame.Now = now
		ticks.Sample(&st, &frame)
		if b, ok := happened(f.Events(), "booster.burnout"); ok && now >= b+1800*sim.Millisecond {
			once(1, now)
		}
		if _, ok := happened(f.Events(), "sustainer.apogee"); ok {
			once(2, now)
			if st.Position.Z < 150 {
				once(3, now)
			}
		}
		if at, ok := happened(f.Events(), "sustainer.landing"); ok {
			end = at + 1500*sim.Millisecond
		}
	}
	out.events = slices.Clone(f.Events())
	return out
}

func happened(events []sim.Event, name string) (sim.Time, bool) {
	for _, e := range events {
		if e.Name == name {
			return e.At, true
		}
	}
	return 0, false
}

// log makes a log of the flight with noise of a seed, spoilt by faults.
func (f *flown) log(t testing.TB, seed uint64, faults ...sim.Fault) *logs.Log {
	t.Helper()
	s := f.setup
	s.Seed, s.Faults = seed, faults
	bank, spoiler := sensor.New(seed, &s, 0), fault.New(&s)
	var shock sim.Shock
	bank.SetShock(&shock, nil)
	fired := f.charges
	rec := harness.Record{Plan: harness.Plan{Name: "swarm", Setup: s}}
	rec.Times, rec.Frames = f.times, make([]sim.Frame, 0, len(f.times))
	var frame sim.Frame
	for i, now := range f.times {
		frame.Now, frame.Due, frame.Powered = now, true, true
		shock = f.shocks[i]
		for len(fired) > 0 && now >= fired[0] {
			bank.ChargeFired(fired[0])
			fired = fired[1:]
		}
		bank.Sample(&f.states[i], &frame)
		spoiler.Apply(&frame, &f.states[i], nil)
		rec.Frames = append(rec.Frames, frame)
	}
	l, err := logs.FromRecord(&rec, 0)
	assert.NoError(t, err)
	return l
}

// flights are flown with vehicles, winds, masses and days that differ.
func flights(t testing.TB, n int) []flown {
	var out []flown
	for i := range n {
		out = append(out, *oneFlight(t, i))
	}
	return out
}

// oneFlight is one of them.
func oneFlight(t testing.TB, i int) *flown {
	seed := firstSeed(t) + uint64(i)
	rng := rand.New(rand.NewPCG(7, seed))
	vehicle := ""
	if i%4 == 3 {
		vehicle = "early-drag.yaml"
	}
	s := loaded(t, vehicle)
	s.Seed = seed + 1
	s.Launch = sim.Seconds(4 + 3*rng.Float64())
	s.Wind.Speed, s.Wind.From = 6*rng.Float64(), 2*math.Pi*rng.Float64()
	s.Vehicle.Site.Temperature += 20*rng.Float64() - 10
	s.Bays = slices.Clone(s.Bays)
	if i%4 == 2 { // gas of the charges gets into the board's bay
		s.Bays[0].Sensors.Baro.Ejection = sim.Ejection{Peak: 70e3 * (0.5 + rng.Float64()), Time: 0.05, Leak: 1.5e-3}
	}
	if i%2 == 1 {
		s.Bays[0].Sensors.Accel.Rate, s.Bays[0].Sensors.Gyro.Rate = 100, 100
	}
	s.Vehicle.Stages = slices.Clone(s.Vehicle.Stages)
	for k := range s.Vehicle.Stages {
		s.Vehicle.Stages[k].Mass *= 0.9 + 0.3*rng.Float64()
		s.Vehicle.Stages[k].Drag.Cd *= 0.8 + 0.4*rng.Float64()
		s.Vehicle.Stages[k].Recovery = slices.Clone(s.Vehicle.Stages[k].Recovery)
		for d := range s.Vehicle.Stages[k].Recovery { // faster down than is wise, which keeps the test short
			s.Vehicle.Stages[k].Recovery[d].Area *= 0.25 + 0.3*rng.Float64()
		}
	}
	out := fly(s)
	return &out
}

// injected are the faults that the swarm draws, with the sizes that would matter to a board. part, kind,
// axis, and the ranges of size and duration.
var injected = []struct {
	part         sim.Part
	kind         sim.FaultKind
	axes         []sim.Axis
	low, high    float64 // of the size; its sign is drawn
	short, long_ float64 // s
}{
	{sim.PartAccel, sim.Spike, []sim.Axis{sim.AxisX}, 40, 200, 0.04, 0.25},
	{sim.PartAccel, sim.Spike, []sim.Axis{sim.AxisY, sim.AxisZ}, 10, 200, 0.04, 0.25},
	{sim.PartAccel, sim.Step, []sim.Axis{sim.AxisX}, 10, 60, 0.3, 3},
	{sim.PartAccel, sim.Step, []sim.Axis{sim.AxisY, sim.AxisZ}, 5, 60, 0.3, 3},
	{sim.PartAccel, sim.Drift, []sim.Axis{sim.AxisX}, 5, 20, 1, 3},
	{sim.PartAccel, sim.Stuck, []sim.Axis{sim.AllAxes, sim.AxisX, sim.AxisY}, 0, 0, 0.1, 2},
	{sim.PartAccel, sim.Dropout, []sim.Axis{sim.AllAxes}, 0, 0, 0.05, 2},
	{sim.PartAccel, sim.NoiseBurst, []sim.Axis{sim.AxisX, sim.AxisY}, 1, 20, 0.2, 3},
	{sim.PartGyro, sim.Spike, []sim.Axis{sim.AxisX, sim.AxisY, sim.AxisZ}, 1, 10, 0.03, 0.15},
	{sim.PartGyro, sim.Step, []sim.Axis{sim.AxisX, sim.AxisY, sim.AxisZ}, 0.5, 5, 0.3, 3},
	{sim.PartGyro, sim.Stuck, []sim.Axis{sim.AllAxes, sim.AxisY}, 0, 0, 0.2, 2},
	{sim.PartGyro, sim.Dropout, []sim.Axis{sim.AllAxes}, 0, 0, 0.05, 2},
	{sim.PartGyro, sim.NoiseBurst, []sim.Axis{sim.AxisX, sim.AxisZ}, 0.05, 1, 0.2, 3},
	{sim.PartBaro, sim.Spike, []sim.Axis{sim.AllAxes}, 150, 3000, 0.1, 0.6},
	{sim.PartBaro, sim.Step, []sim.Axis{sim.AllAxes}, 60, 2000, 0.5, 5},
	{sim.PartBaro, sim.Drift, []sim.Axis{sim.AllAxes}, 30, 200, 1, 5},
	{sim.PartBaro, sim.Stuck, []sim.Axis{sim.AllAxes}, 0, 0, 0.3, 3},
	{sim.PartBaro, sim.Dropout, []sim.Axis{sim.AllAxes}, 0, 0, 0.1, 3},
	{sim.PartBaro, sim.NoiseBurst, []sim.Axis{sim.AllAxes}, 30, 300, 0.5, 3},
	{sim.PartGNSS, sim.Step, []sim.Axis{sim.AxisZ, sim.AxisX}, 40, 300, 2, 6},
	{sim.PartGNSS, sim.Stuck, []sim.Axis{sim.AllAxes, sim.AxisZ}, 0, 0, 1, 4},
	{sim.PartGNSS, sim.Dropout, []sim.Axis{sim.AllAxes}, 0, 0, 0.5, 4},
	{sim.PartBattery, sim.Step, []sim.Axis{sim.AllAxes}, 0.3, 3, 1, 5},
	{sim.PartBattery, sim.Dropout, []sim.Axis{sim.AllAxes}, 0, 0, 1, 4},
}

// draw draws one or two faults of different parts in flight.
func (f *flown) draw(rng *rand.Rand) []sim.Fault {
	lift, _ := happened(f.events, "liftoff")
	top, _ := happened(f.events, "apogee")
	var out []sim.Fault
	for len(out) < 1+rng.IntN(2) {
		c := injected[rng.IntN(len(injected))]
		if len(out) > 0 && out[0].Part == c.part {
			continue
		}
		size := c.low * math.Pow(c.high/max(c.low, 1e-9), rng.Float64())
		if c.low == 0 {
			size = 0
		}
		if rng.IntN(2) == 0 && c.kind != sim.NoiseBurst {
			size = -size
		}
		at := lift + sim.Time(rng.Float64()*float64(top+10*sim.Second-lift))
		out = append(out, sim.Fault{Kind: c.kind, Part: c.part, Axis: c.axes[rng.IntN(len(c.axes))], From: sim.Anchor{Offset: at},
			Duration: sim.Seconds(c.short + (c.long_-c.short)*rng.Float64()), Value: size})
	}
	return out
}

// matches says that a finding is that fault: the part, the kind, the axis and the time.
func matches(x Finding, f sim.Fault) bool {
	from, until := f.From.Offset.Seconds(), (f.From.Offset + f.Duration).Seconds()
	slack := 0.25 + 0.3*(until-from)
	return x.Part == f.Part && x.Kind.Fault() == f.Kind && (x.Axis == f.Axis || x.Part == sim.PartBaro || x.Part == sim.PartBattery || x.Axis == sim.AllAxes || f.Axis == sim.AllAxes) &&
		math.Abs(x.From-from) < slack && math.Abs(x.Until-until) < slack && !x.Real()
}

// truth pairs a moment's event with the simulator's.
var truths = []struct {
	event  string
	number int
	name   string
}{
	{Liftoff, 0, "liftoff"}, {Burnout, 1, "booster.burnout"}, {Ignition, 2, "sustainer.ignition"}, {Burnout, 2, "sustainer.burnout"},
	{Apogee, 0, "sustainer.apogee"}, {Separation, 0, "separation"}, {Deployment, 1, "sustainer.drogue"}, {Deployment, 2, "sustainer.main"}, {Landing, 0, "sustainer.landing"},
}

// tally counts what a swarm of logs gave.
type tally struct {
	faults, found, moments, good int
	extra                        int
	off                          map[string][]float64
	missed, wrong                []string
}

func (y *tally) log(name string, f *flown, faults []sim.Fault, r *Result) {
	used := make([]bool, len(r.Findings))
	for _, x := range faults {
		y.faults++
		hit := -1
		for i, g := range r.Findings {
			if !used[i] && matches(g, x) {
				hit = i
			}
		}
		if hit >= 0 {
			y.found++
			used[hit] = true
			continue
		}
		y.missed = append(y.missed, fmt.Sprintf("%s: %s; found %s", name, fault.Text(x, &f.setup), list(r.Findings)))
	}
	for i, g := range r.Findings {
		if !used[i] && !g.Real() && !f.gas(&g) {
			y.extra++
		}
	}
	for _, w := range truths {
		at, ok := happened(f.events, w.name)
		if !ok {
			continue
		}
		y.moments++
		i := slices.IndexFunc(r.Moments, func(m Moment) bool { return m.Event == w.event && (m.Number == w.number || w.number == 0) })
		if i < 0 {
			y.wrong = append(y.wrong, fmt.Sprintf("%s: no %s %d (%s)", name, w.event, w.number, texts(f, faults)))
			continue
		}
		d := r.Moments[i].At - at.Seconds()
		y.off[w.name] = append(y.off[w.name], math.Abs(d))
		if math.Abs(d) <= 0.1 {
			y.good++
		} else {
			y.wrong = append(y.wrong, fmt.Sprintf("%s: %s %d off by %.3f +- %.3f s (%s)", name, w.event, w.number, d, r.Moments[i].Within, texts(f, faults)))
		}
	}
}

// gas says that a finding is the gas of a charge that really fired beside the board.
func (f *flown) gas(g *Finding) bool {
	return g.Part == sim.PartBaro && g.Explanations[0].Cause == Pressured && slices.ContainsFunc(f.charges, func(at sim.Time) bool {
		return math.Abs(g.From-at.Seconds()) < 0.3
	})
}

func texts(f *flown, faults []sim.Fault) string {
	var out []string
	for _, x := range faults {
		out = append(out, fault.Text(x, &f.setup))
	}
	return strings.Join(out, "; ")
}

func list(fs []Finding) string {
	var out []string
	for _, f := range fs {
		out = append(out, fmt.Sprintf("%s part %d %s %.3f-%.3f %.3g", f.Kind, f.Part, f.Axis, f.From, f.Until, f.Size))
	}
	return "[" + strings.Join(out, ", ") + "]"
}

// TestSwarm: logs with known faults, and clean ones: a few in the usual tests; with DRYSTAGE_LOGS=500, by `make logs`,
// so many, a fifth of them clean. The figures are printed.
func TestSwarm(t *testing.T) {
	ships, all := 4, demanded(t, demands{logs: 50}).logs
	if all > 50 {
		ships = 8
	}
	clean := all / 5
	spoilt := all - clean
	first := firstSeed(t)
	fleet := flights(t, ships)
	y, c := tally{off: map[string][]float64{}}, tally{off: map[string][]float64{}}
	faults, results := make([][]sim.Fault, spoilt+clean), make([]*Result, spoilt+clean)
	t.Run("examined", func(t *testing.T) {
		for i := range results {
			t.Run(fmt.Sprint(i), func(t *testing.T) {
				t.Parallel()
				f := &fleet[i%ships]
				if i < spoilt {
					faults[i] = f.draw(rand.New(rand.NewPCG(11, first+uint64(i))))
				}
				r, err := Examine(f.log(t, first+uint64(1000+i), faults[i]...), Options{})
				assert.NoError(t, err, texts(f, faults[i]))
				results[i] = r
			})
		}
	})
	alarmed := 0
	for i, r := range results {
		require.NotNil(t, r)
		f := &fleet[i%ships]
		if i < spoilt {
			y.log(fmt.Sprintf("log %d", i), f, faults[i], r)
			continue
		}
		was := c.extra
		c.log(fmt.Sprintf("clean %d", i), f, nil, r)
		if c.extra > was {
			alarmed++
			t.Logf("clean %d: %s", i, list(r.Findings))
		}
	}
	for _, m := range append(y.missed, append(y.wrong, c.wrong...)...) {
		t.Log(m)
	}
	t.Logf("%d logs of %d flights with %d faults: %d found and rightly classed (%.1f %%), %d findings beyond them", spoilt, ships, y.faults, y.found, 100*float64(y.found)/float64(y.faults), y.extra)
	t.Logf("%d clean logs: %d with a false alarm (%.1f %%)", clean, alarmed, 100*float64(alarmed)/float64(clean))
	for name, all := range map[string]*tally{"spoilt": &y, "clean": &c} {
		t.Logf("phases in %s logs: %d of %d within 0.1 s (%.1f %%)", name, all.good, all.moments, 100*float64(all.good)/float64(all.moments))
		for _, w := range truths {
			if o := all.off[w.name]; len(o) > 0 {
				sort.Float64s(o)
				t.Logf("  %-20s median %.3f s, 95 %% %.3f s, worst %.3f s", w.name, o[len(o)/2], o[len(o)*95/100], o[len(o)-1])
			}
		}
	}
	// What is reached on seeds that nothing was tuned on (DRYSTAGE_SEED=7000 and 9000). Still missed are faults of the
	// accelerometer in the first seconds below a drogue, drifts across a burn, and steps that end within an opening.
	assert.GreaterOrEqual(t, float64(y.found), 0.9*float64(y.faults))
	assert.LessOrEqual(t, float64(alarmed), 0.05*float64(clean))
	assert.GreaterOrEqual(t, float64(c.good), 0.99*float64(c.moments), "phases of clean flights")
	assert.GreaterOrEqual(t, float64(y.good), 0.98*float64(y.moments))
}
