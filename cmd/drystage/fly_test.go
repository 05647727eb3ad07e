package main

import (
	"bytes"
	"encoding/csv"
	"encoding/xml"
	"math"
	"reflect"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/num/quat"

	"drystage/sim"
	"drystage/sim/r3"
)

// idealOf flies a shipped file and gives its job and its flight.
func idealOf(t *testing.T, name string, change func(*sim.Setup)) (*flightInput, *idealFlight, *curves) {
	j, err := (&flyCmd{File: name}).input(&console{err: t.Output()})
	require.NoError(t, err)
	if change != nil {
		change(j.set)
	}
	o, c := newIdealFlight(j.set), newCurves(j.set)
	o.fly(c.add, sim.Never, nil)
	return j, o, c
}

// TestTruthColumnsAreEveryFieldOfState sets each number of a State in turn and wants exactly one column to see it.
// Each field of a true state is a column, but for the velocity through the air in body axes, which shows as its
// speed and its angle of attack. Two columns are worked out of fields.
func TestTruthColumnsAreEveryFieldOfState(t *testing.T) {
	workedOut := map[string]bool{"angle_of_attack_rad": true, "tilt_rad": true}
	var s sim.State
	var set func(v reflect.Value, path string)
	fields := 0
	set = func(v reflect.Value, path string) {
		switch v.Kind() {
		case reflect.Struct:
			for i := range v.NumField() {
				set(v.Field(i), path+"."+v.Type().Field(i).Name)
			}
			return
		case reflect.Bool:
			v.SetBool(true)
		default:
			v.SetFloat(1)
		}
		wanted := 1
		if strings.HasPrefix(path, "State.Air.") {
			wanted = 0
		}
		fields += wanted
		seen := 0
		for _, c := range truthColumns {
			if !workedOut[c.name] && c.of(&s) != 0 {
				seen++
			}
		}
		assert.Equal(t, wanted, seen, "columns that show %s", path)
		v.SetZero()
	}
	set(reflect.ValueOf(&s).Elem(), "State")
	assert.Len(t, truthColumns, fields+len(workedOut))
	s = sim.State{Attitude: quat.Number{Real: 1}, Air: r3.Vec{X: 1, Y: 1}}
	for _, c := range truthColumns {
		if workedOut[c.name] {
			assert.NotZero(t, c.of(&s), c.name)
		}
	}
}

// TestTruthTable reads the table back with the standard library's reader.
func TestTruthTable(t *testing.T) {
	j, err := (&flyCmd{File: "scenarios/vehicles/dunlin.yaml"}).input(&console{err: t.Output()})
	require.NoError(t, err)
	j.set.Vehicle.Site.Ground = sim.Ground{} // a body lies where it lands, and none swings beside its path
	for i := range j.set.Vehicle.Stages {
		for k := range j.set.Vehicle.Stages[i].Recovery {
			j.set.Vehicle.Stages[i].Recovery[k].Swing = sim.Swing{}
		}
	}
	o := newIdealFlight(j.set)
	var b bytes.Buffer
	table := newTruthTable(&b, o)
	o.fly(func(sim.Time, []sim.State) {}, sim.Second/2, table.add)
	require.NoError(t, table.close())

	text := b.String()
	assert.Equal(t, strings.Count(text, "\n"), strings.Count(text, "\r\n"), "RFC 4180: lines end in CRLF")
	rows, err := csv.NewReader(&b).ReadAll()
	require.NoError(t, err)
	at := map[string]int{}
	for i, name := range rows[0] {
		at[name] = i
	}
	num := func(row []string, name string) float64 {
		x, err := strconv.ParseFloat(row[at[name]], 64)
		require.NoError(t, err)
		return x
	}
	ticks := int((o.end-j.set.Launch)/(sim.Second/2)) + 2 // the first at 0, the last at the end
	require.Len(t, rows, 1+2*ticks)
	var events []string
	for i, row := range rows[1:] {
		assert.Equal(t, []string{"sustainer", "booster"}[i%2], row[1], "a row for each stage")
		if row[3] != "" {
			events = append(events, strings.Split(row[3], "; ")...)
		}
	}
	assert.Len(t, events, len(o.sum.Rows), "each event once")
	assert.Equal(t, "sustainer+booster", rows[1][2], "joined on the pad")
	last := rows[len(rows)-1]
	assert.Equal(t, "booster", last[2], "parted in the end")
	assert.Equal(t, 1.0, num(last, "landed"))
	l := o.landing(1)
	assert.InDelta(t, l.East, num(last, "position_east_m"), 1e-9)
	assert.InDelta(t, l.North, num(last, "position_north_m"), 1e-9)
	before := num(rows[1], "static_margin_calibres")
	assert.Greater(t, before, 1.0, "on the pad")
	for _, row := range rows[1:] {
		if row[1] == "sustainer" && num(row, "time_s") > 2.5 && num(row, "time_s") < 3.5 {
			assert.NotEqual(t, before, num(row, "static_margin_calibres"), "of the upper stage alone")
		}
	}
	for _, row := range rows[1:] { // definition: q = M^2 gamma p / 2
		m := num(row, "mach_1")
		assert.InEpsilon(t, 1.4*num(row, "air_pressure_Pa")*m*m/2+1, num(row, "dynamic_pressure_Pa")+1, 2e-3)
	}
}

var weak = []sim.ThrustPoint{{T: 0, Thrust: 5}, {T: 1, Thrust: 5}, {T: 1.1}}

// noFlight leaves the rocket on its pad.
func noFlight(s *sim.Setup) {
	s.Vehicle.Stages[1].Mount.Motor.Thrust, s.Vehicle.Stages[0].Mount.Lit = weak, sim.Anchor{}
}

func TestFlightText(t *testing.T) {
	slow(t)
	noDevices := func(s *sim.Setup) { s.Vehicle.Stages[1].Recovery = nil }
	rows := []struct {
		reason, file string
		change       func(*sim.Setup)
		want         string
	}{
		{"a good flight", "vehicles/dunlin.yaml", nil, `(?m)^No warning\. `},
		{"both bodies land", "vehicles/dunlin.yaml", nil, `(?s)\nsustainer\n.*lands .*\nbooster\n.*lands `},
		{"what the command line can't know stands there", "nominal.yaml", nil, `(?m)^Dunlin, as in "Good flight in a light wind", seed 1$`},
		{"faults are not flown", "early-burnout.yaml", nil, `The scenario's fault is left out`},
		{"three motors burn one by one", "vehicles/curlew.yaml", nil, `(?s)booster\n  motor 1 .*motor 2 .*motor 3 `},
		{"lines snatch", "vehicles/curlew.yaml", nil, `line snatch [1-9]`},
		{"nothing to come down with", "vehicles/dunlin.yaml", noDevices, `WARNING booster comes down without an open recovery device`},
		{"and so it lands hard", "vehicles/dunlin.yaml", noDevices, `WARNING booster, at .* it lands hard`},
		{"a device that waits for ever", "vehicles/dunlin.yaml", func(s *sim.Setup) {
			s.Vehicle.Stages[1].Recovery[0].Opens = sim.Anchor{Event: sim.EventLanding, Offset: sim.Second}
		}, `main +never opens`},
		{"a motor too weak", "vehicles/dunlin.yaml", func(s *sim.Setup) {
			s.Vehicle.Stages[1].Mount.Motor.Thrust = weak
		}, `(?s)booster\n.*stays +on the pad.*WARNING booster stays on the pad`},
		{"and nothing else to lift it", "vehicles/dunlin.yaml", noFlight, `(?s)booster\n.*stays +on the pad.*WARNING the rocket never leaves the rail`},
		{"an upper motor that isn't lit", "vehicles/dunlin.yaml", func(s *sim.Setup) { s.Vehicle.Stages[0].Mount.Lit = sim.Anchor{} }, `sustainer\n  motor +never burns`},
		{"a gale", "vehicles/dunlin.yaml", func(s *sim.Setup) { s.Wind.Speed = 12 }, `WARNING the wind is stronger than safety codes allow.*\n +12\.0 m/s, limit 8\.94`},
		{"a gale by a table of winds aloft", "vehicles/dunlin.yaml", func(s *sim.Setup) {
			s.Wind = sim.Wind{Aloft: []sim.WindLevel{{Height: 0, Speed: 8, From: 90 / degrees}, {Height: 20, Speed: 16, From: 90 / degrees}}, Turbulence: sim.Turbulence{On: true}}
		}, `(?s)wind 12\.0 m/s at 10 m from 090 deg by a table of 2 rows, with turbulence\..*WARNING the wind is stronger than safety codes allow.*\n +12\.0 m/s, limit 8\.94`},
		{"a barometer on a cold day", "vehicles/dunlin.yaml", func(s *sim.Setup) { s.Vehicle.Site.Temperature = 253.15 }, `barometer +one that assumes the standard day shows 1\d{3}\.\d m at the greatest height, \d+\.\d m: \+1\d\d\.\d m off`},
		{"a slow exit", "vehicles/dunlin.yaml", func(s *sim.Setup) { s.Vehicle.Rail.Length = 1 }, `WARNING the rocket, at .*slowly;\n +12\.\d m/s, limit 14\.0 m/s`},
		{"a rail that leans", "vehicles/dunlin.yaml", func(s *sim.Setup) { s.Vehicle.Rail.Tilt = 25 / degrees }, `WARNING the rocket, .*safety codes allow;\n +25\.0 deg, limit 20\.0 deg`},
		{"fins of a stage too far forward", "vehicles/dunlin.yaml", func(s *sim.Setup) { s.Vehicle.Stages[0].Fins[0].Station = 0.45 }, `WARNING sustainer, from .*static margin is below one calibre`},
		{"a flight that is cut", "nominal.yaml", func(s *sim.Setup) { s.Limit = 60 * sim.Second }, `WARNING sustainer isn't down by 55 s`},
	}
	for _, r := range rows {
		t.Run(r.reason, func(t *testing.T) {
			j, o, _ := idealOf(t, "scenarios/"+r.file, r.change)
			assert.Regexp(t, regexp.MustCompile(r.want), flightText(j, o))
		})
	}
}

// TestFlightTextAgreesWithTheTruth works figures out again from the states that the flight goes through.
func TestFlightTextAgreesWithTheTruth(t *testing.T) {
	j, o, c := idealOf(t, "scenarios/as-built.yaml", nil)
	text := flightText(j, o)
	for i, stage := range []string{"sustainer", "booster"} {
		top, fast := 0.0, 0.0
		for k := range c.of[0][i].X {
			top, fast = max(top, c.of[0][i].X[k]), max(fast, c.of[1][i].X[k])
		}
		part := text[strings.Index(text, "\n"+stage+"\n"):]
		number := func(form string) float64 {
			m := regexp.MustCompile(form).FindStringSubmatch(part)
			require.NotNil(t, m, form)
			x, err := strconv.ParseFloat(m[1], 64)
			require.NoError(t, err)
			return x
		}
		assert.InDelta(t, top, number(`apogee +([0-9.]+) m`), 0.06, "%s: highest", stage)
		assert.InDelta(t, fast, number(`greatest speed +([0-9.]+) m/s`), 0.06, "%s: fastest", stage)
		v, m := number(`deg, at ([0-9.]+) m/s`), number(`with ([0-9.]+) kg`)
		assert.InDelta(t, m*v*v/2, number(`kg: ([0-9.]+) J`), 0.05*m*v+0.1, "%s: m v^2/2", stage)
		east, north := number(`([-0-9.]+) m east`), number(`([-0-9.]+) m north`)
		assert.InDelta(t, math.Hypot(east, north), number(`([0-9.]+) m away`), 0.2, "%s", stage)
		assert.InDelta(t, math.Atan2(east, north)*180/math.Pi, number(`bearing ([0-9]+) deg`), 1, "%s", stage)
	}
}

func TestFlyReadsTheCommandLine(t *testing.T) {
	seed := uint64(7)
	j, err := (&flyCmd{File: "scenarios/gusty-wind.yaml"}).input(&console{err: t.Output()})
	require.NoError(t, err)
	c := flyCmd{Wind: "5 m/s", WindFrom: "90 deg", Temperature: "-5 degC", Pressure: "900 hPa", RailTilt: "7 deg", RailAzimuth: "45 deg", Seed: &seed}
	require.NoError(t, c.override(j))
	s := j.set
	assert.InDelta(t, 5, s.Wind.Speed, 0)
	assert.InDelta(t, math.Pi/2, s.Wind.From, 1e-12)
	assert.Len(t, s.Wind.Gusts, 3, "the scenario's gusts stay")
	assert.InDelta(t, 268.15, s.Vehicle.Site.Temperature, 1e-9)
	assert.InDelta(t, 90000, s.Vehicle.Site.Pressure, 1e-9)
	assert.InDelta(t, 7*math.Pi/180, s.Vehicle.Rail.Tilt, 1e-12)
	assert.InDelta(t, math.Pi/4, s.Vehicle.Rail.Azimuth, 1e-12)
	assert.Equal(t, seed, s.Seed)

	s.Wind = sim.Wind{Aloft: []sim.WindLevel{{Speed: 9}}, Turbulence: sim.Turbulence{On: true}}
	require.NoError(t, (&flyCmd{Wind: "5 m/s"}).override(j))
	assert.Equal(t, sim.Wind{Speed: 5, From: 1.5 * math.Pi, Height: 10, Exponent: 0.143, Turbulence: sim.Turbulence{On: true}}, s.Wind, "in place of a table of winds aloft")
	s.Wind = sim.Wind{Aloft: []sim.WindLevel{{Speed: 9}}}
	require.ErrorContains(t, (&flyCmd{WindFrom: "5 deg"}).override(j), "give --wind too")
}

func TestBearing(t *testing.T) {
	rows := []struct {
		reason string
		rad    float64
		want   float64
	}{
		{"north", 0, 0}, {"east", math.Pi / 2, 90}, {"west, told from the other side", -math.Pi / 2, 270},
		{"what rounds to 360 is north", 359.7 / degrees, 0}, {"and from below", -0.3 / degrees, 0},
	}
	for _, r := range rows {
		assert.InDelta(t, r.want, bearing(r.rad), 1e-9, r.reason)
	}
}

func TestPicture(t *testing.T) {
	_, o, c := idealOf(t, "scenarios/vehicles/dunlin.yaml", nil)
	var b bytes.Buffer
	require.NoError(t, c.draw(&b, o.events))
	for _, want := range []string{"sustainer.ignition", "booster.landing", "height, m", "speed, m/s", "felt acceleration, m/s²", "ascent, time since launch", "Dunlin"} {
		assert.Contains(t, b.String(), want)
	}
	require.NoError(t, xml.Unmarshal(b.Bytes(), new(struct {
		XMLName xml.Name `xml:"http://www.w3.org/2000/svg svg"`
	})))
}

// A flight that goes nowhere still makes a picture.
func TestPictureOfNoFlight(t *testing.T) {
	_, o, c := idealOf(t, "scenarios/vehicles/dunlin.yaml", noFlight)
	var b bytes.Buffer
	require.NoError(t, c.draw(&b, o.events))
	assert.NotContains(t, b.String(), "NaN")
}
