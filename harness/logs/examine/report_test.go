package examine

import (
	"bytes"
	"encoding/xml"
	"io"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"drystage/harness/logs"
	"drystage/sim"
)

// odd is a flight with a spike of the accelerometer and a step of the barometer, held against its
// vehicle.
func odd(t testing.TB) *Result {
	s := loaded(t, "")
	f := fly(s)
	at, _ := happened(f.events, "booster.burnout")
	r, err := Examine(f.log(t, 4,
		sim.Fault{Kind: sim.Spike, Part: sim.PartAccel, Axis: sim.AxisX, From: sim.Anchor{Offset: at + 700*sim.Millisecond}, Duration: 120 * sim.Millisecond, Value: -150},
		sim.Fault{Kind: sim.Step, Part: sim.PartBaro, From: sim.Anchor{Offset: at + 5*sim.Second}, Duration: 2 * sim.Second, Value: 400},
	), Options{Setup: &s})
	require.NoError(t, err)
	return r
}

func TestReports(t *testing.T) {
	r := odd(t)
	var text, page bytes.Buffer
	require.NoError(t, Text(&text, r, 80))
	require.NoError(t, Page(&page, r))
	for _, words := range []string{"spike", "barometer: step", "the sensor", "liftoff", "separation", "greatest height"} {
		assert.Contains(t, text.String(), words)
		assert.Contains(t, page.String(), words)
	}
	for _, line := range strings.Split(text.String(), "\n") {
		if strings.HasPrefix(line, "       ") {
			assert.LessOrEqual(t, len(line), 80, line)
		}
	}
	for _, bad := range []string{"<script", "http:", "https:", "NaN", "ZgotmplZ", "@import", "url("} {
		assert.NotContains(t, page.String(), bad, "the page needs nothing from elsewhere, and every number is one")
	}
	assert.Equal(t, 2*(8+len(r.Findings)), strings.Count(page.String(), "<svg"), "eight figures and one of each finding, in two widths")
	for _, words := range []string{"Pressure, hPa", "distance from the pad", "Battery, V", "minus smoothed", "without the finding"} {
		assert.Contains(t, page.String(), words)
	}
	assert.Contains(t, page.String(), `class="simulated"`)
	assert.Contains(t, page.String(), `href="#finding-1"`)
	// Well-formed, as far as XML can tell of HTML without void elements.
	body := strings.NewReplacer(`<meta charset="utf-8">`, "", `<meta name="viewport" content="width=device-width, initial-scale=1">`, "").Replace(page.String())
	d := xml.NewDecoder(strings.NewReader(strings.TrimPrefix(body, "<!DOCTYPE html>")))
	d.Entity = xml.HTMLEntity
	for {
		if _, err := d.Token(); err == io.EOF {
			break
		} else {
			require.NoError(t, err)
		}
	}
	assert.Less(t, page.Len(), 600<<10)
}

// TestHostileNamesAreHarmless: a file's name can't become markup.
func TestHostileNamesAreHarmless(t *testing.T) {
	r := odd(t)
	r.Log.Name = `<script>alert("x")</script>.csv`
	var page bytes.Buffer
	require.NoError(t, Page(&page, r))
	assert.NotContains(t, page.String(), "<script")
}

// TestFindingsBecomeFaults: kind, time, size and axis are those that were put in, told by the moments
// of the flight.
func TestFindingsBecomeFaults(t *testing.T) {
	r := odd(t)
	s := loaded(t, "")
	faults, _ := r.Faults(&s.Vehicle, 0, 0, 0)
	require.Len(t, faults, 2, list(r.Findings))
	spike, step := faults[0], faults[1]
	assert.Equal(t, sim.Spike, spike.Kind)
	assert.Equal(t, sim.AxisX, spike.Axis)
	assert.Equal(t, sim.EventSeparation, spike.From.Event)
	assert.InDelta(t, 0.4, spike.From.Offset.Seconds(), 0.01)
	assert.InDelta(t, 0.12, spike.Duration.Seconds(), 0.01)
	assert.InDelta(t, -150, spike.Value, 3)
	assert.Equal(t, sim.Step, step.Kind)
	assert.Equal(t, "sustainer.burnout", step.From.Event)
	assert.InDelta(t, 2, step.Duration.Seconds(), 0.05)
	assert.InDelta(t, 400, step.Value, 8)
}

// TestUpsideDownBoards: whichever axis lies along the rocket, the flight is the same, and a fault keeps
// the part's own axis and sign.
func TestUpsideDownBoards(t *testing.T) {
	s := loaded(t, "")
	f := fly(s)
	at, _ := happened(f.events, "booster.burnout")
	l := f.log(t, 4, sim.Fault{Kind: sim.Spike, Part: sim.PartAccel, Axis: sim.AxisX, From: sim.Anchor{Offset: at + 700*sim.Millisecond}, Duration: 120 * sim.Millisecond, Value: -150})
	for _, p := range []sim.Part{sim.PartAccel, sim.PartGyro} { // x to -z, y to -y, z to -x: half a turn
		d := l.Streams[p].Data
		d[logs.X], d[logs.Z] = d[logs.Z], d[logs.X]
		for _, ch := range d[:3] {
			for i := range ch {
				ch[i] = -ch[i]
			}
		}
	}
	r, err := Examine(l, Options{})
	require.NoError(t, err)
	faults, _ := r.Faults(&s.Vehicle, 0, 0, 0)
	require.Len(t, faults, 1, list(r.Findings))
	assert.Equal(t, sim.AxisZ, faults[0].Axis)
	assert.InDelta(t, 150, faults[0].Value, 3)
}

func TestWhatIsNoFlightIsRefused(t *testing.T) {
	f := fly(loaded(t, ""))
	whole := f.log(t, 1)
	cut := func(from, to sim.Time) *logs.Log {
		l := *whole
		for p := range l.Streams {
			s := &l.Streams[p]
			i, j := 0, 0
			for k, t := range s.Times {
				if t < from {
					i = k + 1
				}
				if t < to {
					j = k + 1
				}
			}
			c := logs.Stream{Part: s.Part, Times: s.Times[i:j]}
			for _, d := range s.Data {
				if d != nil {
					d = d[i:j]
				}
				c.Data = append(c.Data, d)
			}
			l.Streams[p] = c
		}
		return &l
	}
	for _, c := range []struct {
		reason string
		log    *logs.Log
		says   string
	}{
		{"nothing", &logs.Log{}, "neither an accelerometer nor a barometer"},
		{"too short", cut(0, 2*sim.Second), "shorter than 3 s"},
		{"only the pad", cut(0, 4500*sim.Millisecond), "no flight is in the log"},
		{"begins in flight, and no height", accelAlone(cut(8*sim.Second, 60*sim.Second)), "does not begin on the pad"},
	} {
		t.Run(c.reason, func(t *testing.T) {
			_, err := Examine(c.log, Options{})
			require.ErrorContains(t, err, c.says)
		})
	}
}

// accelAlone leaves the height out of a log.
func accelAlone(l *logs.Log) *logs.Log {
	for _, p := range []sim.Part{sim.PartBaro, sim.PartGNSS} {
		l.Streams[p] = logs.Stream{Part: p}
	}
	return l
}

// TestLessIsEnough: a log that has only some of the sensors still tells what they know.
func TestLessIsEnough(t *testing.T) {
	f := fly(loaded(t, ""))
	for _, c := range []struct {
		reason string
		drop   []sim.Part
		within map[string]float64
	}{
		{"no GNSS", []sim.Part{sim.PartGNSS}, map[string]float64{"liftoff": 0.1, "burnout 1": 0.1, "apogee": 0.1, "landing": 0.1}},
		{"no gyro", []sim.Part{sim.PartGyro}, map[string]float64{"liftoff": 0.1, "burnout 1": 0.1, "burnout 2": 0.1, "apogee": 0.1}},
		{"a barometer alone", []sim.Part{sim.PartGNSS, sim.PartAccel, sim.PartGyro, sim.PartBattery}, map[string]float64{"liftoff": 1.2, "apogee": 0.2, "landing": 0.2}},
	} {
		t.Run(c.reason, func(t *testing.T) {
			l := f.log(t, 2)
			for _, p := range c.drop {
				l.Streams[p] = logs.Stream{Part: p}
			}
			r, err := Examine(l, Options{})
			require.NoError(t, err)
			names := map[string]string{"liftoff": "liftoff", "burnout 1": "booster.burnout", "burnout 2": "sustainer.burnout", "apogee": "apogee", "landing": "sustainer.landing"}
			got := map[string]float64{}
			for _, m := range r.Moments {
				got[m.Name()] = m.At
			}
			for name, within := range c.within {
				at, _ := happened(f.events, names[name])
				assert.InDelta(t, at.Seconds(), got[name], within, name)
			}
			for _, x := range r.Findings {
				assert.True(t, x.Real(), list(r.Findings))
			}
		})
	}
}

// TestAltimetry holds height from pressure against ISO 2533 (testdata/iso2533.csv at the root): from
// sea level in the standard air, by its printed tables, whose pressures have six digits.
func TestAltimetry(t *testing.T) {
	for _, c := range []struct{ z, p, within float64 }{
		{500, 95461.2, 0.02}, {1000, 89876.3, 0.02}, {2000, 79501.4, 0.02}, {5000, 54048.3, 0.02}, {10000, 26499.9, 0.1},
	} {
		e := examiner{res: &Result{}}
		e.res.Ground.Pressure = 101325
		e.res.Ground.Elevation = 1e-9
		assert.InDelta(t, c.z, heightAt(e.air(), c.p), c.within)
	}
}

// TestLateGNSS: a receiver that stamps its fixes 200 ms late is found out, and how late.
func TestLateGNSS(t *testing.T) {
	f := fly(loaded(t, ""))
	l := f.log(t, 2)
	s := &l.Streams[sim.PartGNSS]
	for i := range s.Times {
		s.Times[i] += 200 * sim.Millisecond
	}
	r, err := Examine(l, Options{})
	require.NoError(t, err)
	found := false
	for _, x := range r.Findings {
		if x.Kind == Latency {
			found = true
			assert.InDelta(t, 0.2, x.Size, 0.02)
		}
	}
	assert.True(t, found, list(r.Findings))
	v := f.setup.Vehicle
	faults, _ := r.Faults(&v, 0, 0, 0)
	require.Len(t, faults, 1)
	assert.Equal(t, sim.Delayed, faults[0].Kind)
	text, refused := r.FaultScenario(Written{Like: "nominal.yaml", LogFile: "x.csv", Setup: &f.setup})
	assert.Empty(t, refused)
	assert.Regexp(t, `\{delayed: sustainer.gnss, from: start, by: 0\.(19|2)\d* s\}`, text)
}
