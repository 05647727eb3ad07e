package trace

import (
	"bytes"
	"encoding/csv"
	"math"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"drystage/harness"
	"drystage/sim"
	"drystage/sim/r3"
	"drystage/sim/world"
)

const ms = sim.Millisecond

// flown is the record of two seconds of a dart's flight with faults, without any board. Its parts have
// no errors but the bias of the barometer and the battery's step.
func flown(faults ...sim.Fault) *harness.Record {
	s := sim.Setup{
		Seed: 1, Launch: 100 * ms, Until: sim.Anchor{Offset: 2 * sim.Second}, Limit: 2 * sim.Second, Faults: faults,
		Vehicle: sim.Vehicle{
			Stages: []sim.Stage{{Name: "dart", Length: 1, Diameter: 0.05, Mass: 1, CG: 0.5, Drag: sim.Drag{Cd: 0.5},
				Fins:  []sim.Fins{{Count: 3, Root: 0.1, Tip: 0.05, Span: 0.06, Sweep: 0.05, Thickness: 0.003, Station: 0.88, Cant: 0.02}},
				Mount: sim.Mount{Station: 0.8, Motor: sim.Motor{Propellant: 0.05, Length: 0.2, Diameter: 0.03, Thrust: []sim.ThrustPoint{{T: 0, Thrust: 80}, {T: 1, Thrust: 80}, {T: 1.01}}}}}},
			Rail: sim.Rail{Length: 2, Tilt: 0.1},
			Site: sim.Site{Latitude: 0.8, Longitude: 0.1, Elevation: 400, Temperature: 288, Pressure: 96e3},
		},
		Bays: []sim.Bay{{Name: "dart", Station: 0.2, Sensors: sim.Sensors{
			Accel:   sim.Triad{Rate: 200, Mounting: [3]r3.Vec{{Y: 1}, {X: -1}, {Z: 1}}, Position: r3.Vec{Y: 0.02}},
			Gyro:    sim.Triad{Rate: 200},
			Baro:    sim.Barometer{Rate: 50, Bias: 40},
			GNSS:    sim.Receiver{Rate: 10},
			Battery: sim.Battery{Rate: 10, Voltage: 7.4},
		}}},
	}
	rec := &harness.Record{Plan: harness.Plan{Name: "dart", Setup: s}}
	w := world.New(&s)
	for ok := true; ok; {
		var t *sim.Tick
		t, ok = w.Step(nil)
		rec.Times, rec.Active = append(rec.Times, t.Now), append(rec.Active, t.Active)
		rec.States, rec.Frames = append(rec.States, t.States...), append(rec.Frames, t.Frames...)
		rec.Injected = append(rec.Injected, t.Injected...)
	}
	return rec
}

// Without faults a part without errors says the truth, on its mounting and in its place; a bias is not
// the truth's; what is injected is nothing.
func TestTruthBesideWhatWasRead(t *testing.T) {
	rec := flown()
	for p, want := range map[sim.Part]int{sim.PartAccel: 401, sim.PartGyro: 401, sim.PartBaro: 101, sim.PartGNSS: 21, sim.PartBattery: 21} {
		list := Samples(rec, 0, p)
		require.Len(t, list, want, p.String())
		for _, s := range list {
			require.Zero(t, s.Injected())
			require.Zero(t, s.Faults)
			require.Equal(t, s.Read, s.Sent)
			switch p {
			case sim.PartBaro:
				require.InDelta(t, 40, s.Read.X-s.True.X, 1e-9)
			case sim.PartBattery:
				require.True(t, math.IsNaN(s.True.X), "nobody knows its load afterwards")
			default:
				require.Equal(t, s.True, s.Read, p.String())
			}
		}
	}
	accel := Samples(rec, 0, sim.PartAccel)
	spun := rec.State(400, 0)
	require.Greater(t, spun.Rates.X, 0.1, "canted fins spin it")
	want := spun.Force.Y - 0.02*(spun.Rates.X*spun.Rates.X+spun.Rates.Z*spun.Rates.Z)
	arm := (spun.CG + spun.Front) - 0.2 // ahead of the centre of gravity
	want += arm * (spun.Angular.Z + spun.Rates.X*spun.Rates.Y)
	assert.InDelta(t, want, accel[400].True.X, 1e-9, "rigid body: its x axis is the body's y")
}

func TestWhatWasInjected(t *testing.T) {
	for _, c := range []struct {
		reason string
		fault  sim.Fault
		hit    int
		check  func(t *testing.T, s *Sample)
	}{
		{"a step", sim.Fault{Kind: sim.Step, Part: sim.PartBaro, Value: 250, From: sim.Anchor{Offset: sim.Second}, Duration: 200 * ms}, 10, func(t *testing.T, s *Sample) {
			assert.InDelta(t, 250, s.Injected().X, 1e-9)
			assert.InDelta(t, s.True.X+40+250, s.Sent.X, 1e-9, "true, the part's own, injected: sent")
		}},
		{"samples taken away", sim.Fault{Kind: sim.Dropout, Part: sim.PartGyro, From: sim.Anchor{Offset: sim.Second}, Duration: 50 * ms}, 10, func(t *testing.T, s *Sample) {
			assert.True(t, s.Dropped)
			assert.Equal(t, s.True, s.Read, "what would have been sent")
		}},
		{"samples sent twice", sim.Fault{Kind: sim.Duplicated, Part: sim.PartGNSS, From: sim.Anchor{Offset: sim.Second}}, 11, func(t *testing.T, s *Sample) {
			assert.True(t, s.Twice)
			assert.Zero(t, s.Injected())
		}},
		{"the other sign", sim.Fault{Kind: sim.Reversed, Part: sim.PartAccel, Axis: sim.AxisY, From: sim.Anchor{Offset: sim.Second}, Duration: 50 * ms}, 10, func(t *testing.T, s *Sample) {
			assert.Equal(t, r3.Vec{X: s.True.X, Y: -s.True.Y, Z: s.True.Z}, s.Sent)
			assert.InDelta(t, -2*s.Read.Y, s.Injected().Y, 1e-12)
		}},
		{"a fix that is late", sim.Fault{Kind: sim.Delayed, Part: sim.PartGNSS, Value: 0.5, From: sim.Anchor{Offset: sim.Second}}, 11, func(t *testing.T, s *Sample) {
			assert.Less(t, s.Sent.Z, s.True.Z, "it says where the rocket was half a second ago")
			assert.InDelta(t, s.True.Z, s.Read.Z, 1e-9)
		}},
	} {
		list, hit := Samples(flown(c.fault), 0, c.fault.Part), 0
		for i := range list {
			if list[i].Faults == 0 {
				continue
			}
			assert.EqualValues(t, 1, list[i].Faults, c.reason)
			hit++
			c.check(t, &list[i])
		}
		assert.Equal(t, c.hit, hit, c.reason)
	}
}

// Two faults of one sample: read is what was there before the first, sent what is there after the last.
func TestFaultsOnTopOfEachOther(t *testing.T) {
	rec := flown(sim.Fault{Kind: sim.Step, Part: sim.PartBaro, Value: 100}, sim.Fault{Kind: sim.Scaled, Part: sim.PartBaro, Value: 1, From: sim.Anchor{Offset: sim.Second}})
	list := Samples(rec, 0, sim.PartBaro)
	for _, s := range list {
		assert.InDelta(t, s.True.X+40, s.Read.X, 1e-9)
		if s.At < sim.Second {
			assert.EqualValues(t, 1, s.Faults)
			assert.InDelta(t, s.Read.X+100, s.Sent.X, 1e-9)
		} else {
			assert.EqualValues(t, 3, s.Faults)
			assert.InDelta(t, 2*(s.Read.X+100), s.Sent.X, 1e-9)
		}
	}
}

func TestTable(t *testing.T) {
	rec := flown(
		sim.Fault{Kind: sim.Step, Part: sim.PartBaro, Value: 250, From: sim.Anchor{Offset: sim.Second}, Duration: 60 * ms},
		sim.Fault{Kind: sim.Dropout, Part: sim.PartBattery, From: sim.Anchor{Offset: 1900 * ms}},
		sim.Fault{Kind: sim.EarlyBurnout, From: sim.Anchor{Offset: sim.Second}},
		sim.Fault{Kind: sim.DeadIgniter, From: sim.Anchor{Offset: sim.Second}},
		sim.Fault{Kind: sim.Spike, Part: sim.PartGyro, Axis: sim.AxisZ, Value: 1, From: sim.Anchor{Offset: 1500 * ms}, Duration: 400 * ms},
		sim.Fault{Kind: sim.Stuck, Part: sim.PartGNSS, From: sim.Anchor{Offset: 500 * ms}, Duration: 300 * ms},
		sim.Fault{Kind: sim.FixLost, Part: sim.PartGNSS, From: sim.Anchor{Offset: 1200 * ms}, Duration: 300 * ms},
		sim.Fault{Kind: sim.LinkStalled, From: sim.Anchor{Offset: 1500 * ms}, Duration: 400 * ms},
		sim.Fault{Kind: sim.Step, Part: sim.PartBaro, Value: 1, From: sim.Anchor{Offset: 60 * sim.Second}},
	)
	var b bytes.Buffer
	require.NoError(t, Table(&b, rec))
	out := b.String()
	for _, want := range []struct{ text, reason string }{
		{"fault 1: step dart.barometer from start + 1 s for 0.06 s by 250 Pa\n  3 of 101 samples, 1.000 s to 1.040 s; barometer in Pa\n", "what and when"},
		{"        time           true        as read       injected           sent\n       0.960 s ", "two samples before"},
		{"        250.000 ", "what was injected"},
		{"taken away              -\n", "a sample that is missing"},
		{"1.900 s              -          7.400     taken away", "a truth that nobody knows"},
		{"fault 3: early_burnout dart from start + 1 s\n  it came at 1.000 s\n", "a fault of the vehicle"},
		{"fault 4: igniter_dead dart from start + 1 s\n  it changed nothing\n", "one that came too late"},
		{"gyro z in deg/s\n", "the axis that it names"},
		{"         ...\n", "a long one is cut"},
		{"gnss height in m\n", "the number that changed most"},
		{"  no fix\n", "and that is told"},
		{"it changed something at 80 instants, 1.500 s to 1.895 s\n", "a fault of the line"},
		{"fault 9: step dart.barometer from start + 60 s by 1 Pa\n  it changed nothing\n", "one that never came"},
	} {
		assert.Contains(t, out, want.text, want.reason)
	}
	assert.Less(t, strings.Count(out, "\n"), 110, "however many samples there are")
	b.Reset()
	require.NoError(t, Table(&b, flown()))
	assert.Equal(t, "dart has no faults\n", b.String())
}

// A record that somebody made up tells what it can.
func TestStrangeRecords(t *testing.T) {
	rec := flown(sim.Fault{Kind: sim.Step, Bay: 9, Part: sim.PartBaro, Value: 1}, sim.Fault{Kind: sim.Step, Value: 1}, sim.Fault{Kind: sim.Dropout, Part: 99})
	var b bytes.Buffer
	require.NoError(t, Table(&b, rec))
	assert.Equal(t, 3, strings.Count(b.String(), "it names no part of a board"))
	rec.Times[len(rec.Times)-1] = sim.Never
	list := Samples(rec, 0, sim.PartBaro)
	require.NotEmpty(t, list)
	assert.True(t, math.IsNaN(list[0].True.X), "no run is that long")
	rec = flown()
	rec.Plan.Log.File = "flight.csv"
	assert.True(t, math.IsNaN(Samples(rec, 0, sim.PartGyro)[0].True.X), "of a log that was played, nobody knows")
}

func TestCSV(t *testing.T) {
	rec := flown(sim.Fault{Kind: sim.Step, Part: sim.PartGyro, Axis: sim.AxisY, Value: math.Pi, From: sim.Anchor{Offset: sim.Second}},
		sim.Fault{Kind: sim.Dropout, Part: sim.PartBaro, From: sim.Anchor{Offset: sim.Second}})
	var b bytes.Buffer
	require.NoError(t, CSV(&b, rec, -1))
	rows, err := csv.NewReader(&b).ReadAll()
	require.NoError(t, err)
	require.Len(t, rows, 1+401+401+101+21+21)
	at := map[string]int{}
	for i, name := range rows[0] {
		at[name] = i
	}
	num := func(row []string, name string) float64 {
		x, err := strconv.ParseFloat(row[at[name]], 64)
		require.NoError(t, err, name)
		return x
	}
	turned, gone := 0, 0
	for _, r := range rows[1:] {
		switch r[at["part"]] {
		case "gyro":
			want := 0.0
			if num(r, "time_s") >= 1 {
				want = 180
				turned++
				require.Equal(t, "1", r[at["faults"]])
			}
			require.InDelta(t, want, num(r, "injected_y"), 1e-9)
			require.InDelta(t, num(r, "read_y")+want, num(r, "sent_y"), 1e-7)
			require.InDelta(t, num(r, "true_x"), num(r, "sent_x"), 1e-9)
		case "barometer":
			require.Empty(t, r[at["true_y"]])
			require.NotEmpty(t, r[at["read_x"]])
			if r[at["dropped"]] == "1" {
				gone++
				require.Empty(t, r[at["sent_x"]])
				require.Equal(t, "2", r[at["faults"]])
			}
		case "gnss":
			require.Equal(t, "3", r[at["fix"]])
			require.InDelta(t, 0.8*180/math.Pi, num(r, "true_y"), 1e-3)
		case "battery":
			require.Empty(t, r[at["true_x"]])
		}
	}
	assert.Equal(t, [2]int{201, 51}, [2]int{turned, gone})
	b.Reset()
	require.NoError(t, CSV(&b, rec, 1))
	assert.Equal(t, 1, strings.Count(b.String(), "\n"), "no such board: the head alone")
}

// A trace holds the samples around those that were touched, by the number that changed most.
func TestTraces(t *testing.T) {
	rec := flown(
		sim.Fault{Kind: sim.Spike, Part: sim.PartGyro, Axis: sim.AxisZ, Value: 1, From: sim.Anchor{Offset: sim.Second}, Duration: 200 * ms},
		sim.Fault{Kind: sim.Dropout, Part: sim.PartBaro, From: sim.Anchor{Offset: sim.Second}, Duration: 100 * ms},
		sim.Fault{Kind: sim.FixLost, Part: sim.PartGNSS, From: sim.Anchor{Offset: 1200 * ms}, Duration: 300 * ms},
		sim.Fault{Kind: sim.DeadIgniter, From: sim.Anchor{Offset: sim.Second}},
	)
	ts := Traces(rec)
	require.Len(t, ts, 3, "one for each part that was touched, in order")
	gyro, baro, gnss := ts[0], ts[1], ts[2]
	assert.Equal(t, []any{sim.PartGyro, "z", "deg/s", uint64(1)}, []any{gyro.Part, gyro.Axis, gyro.Unit, gyro.Faults})
	assert.Equal(t, []any{sim.PartBaro, "", "Pa", 5, 5}, []any{baro.Part, baro.Axis, baro.Unit, baro.Hit, baro.Dropped})
	assert.Equal(t, []any{sim.PartGNSS, 3}, []any{gnss.Part, gnss.NoFix})
	most := 0.0
	for i, at := range gyro.At {
		assert.True(t, at >= 500*ms && at <= gyro.Last+500*ms)
		most = max(most, gyro.Sent[i]-gyro.Read[i])
	}
	assert.InDelta(t, 180/math.Pi, most, 0.01, "the spike's height, in the unit of the trace")
	gone := 0
	for i := range baro.At {
		if math.IsNaN(baro.Sent[i]) {
			gone++
			assert.False(t, math.IsNaN(baro.Read[i]))
		}
	}
	assert.Equal(t, 5, gone)
	assert.Empty(t, Traces(flown()))
	rec.Injected = append(rec.Injected, sim.Injection{Bay: 9, Part: 99}, sim.Injection{Bay: 0, Part: 99})
	assert.Len(t, Traces(rec), 3, "what names no part of a board has no trace")
}
