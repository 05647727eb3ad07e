package flight

import (
	"bytes"
	"encoding/json"
	"os"
	"os/exec"
	"testing"

	"drystage/sim"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// The vehicles of the comparison with SciPy: a subsonic one with canted fins in a crosswind; two stages that
// separate by drag, with a coast between; one that passes Mach 1 twice.
var reference = []struct {
	name  string
	setup func() *sim.Setup
}{{"subsonic", wren}, {"two-stage", plainDunlin}, {"transonic", swift}}

// plainDunlin is dunlin without random scatter.
func plainDunlin() *sim.Setup {
	s := dunlin()
	for i := range s.Vehicle.Stages {
		s.Vehicle.Stages[i].Mount.Igniter = sim.Igniter{}
	}
	s.Vehicle.Rail.Azimuth = 40 * degree
	return s
}

// wren is one light stage whose canted fins make it roll.
func wren() *sim.Setup {
	st := sim.Stage{Name: "wren", Length: 0.75, Diameter: 0.041, Mass: 0.36, CG: 0.4, Inertia: sim.Inertia{Axial: 1.1e-4, Transverse: 1.4e-2},
		Nose: sim.Nose{Shape: sim.Cone, Length: 0.14},
		Fins: []sim.Fins{{Count: 4, Root: 0.08, Tip: 0.04, Span: 0.05, Sweep: 0.04, Thickness: 0.003, Station: 0.66, Cant: 0.4 * degree}},
		Drag: sim.Drag{Cd: 0.6}, Mount: sim.Mount{Motor: alder, Station: 0.62}}
	return &sim.Setup{Limit: 100 * sim.Second, Launch: sim.Second, Wind: sim.Wind{Speed: 5, From: 200 * degree, Height: 10, Exponent: 0.143},
		Vehicle: sim.Vehicle{Stages: []sim.Stage{st}, Rail: sim.Rail{Length: 1.5, Tilt: 5 * degree, Azimuth: 90 * degree},
			Site: sim.Site{Latitude: 60 * degree, Elevation: 20, Temperature: 268.15, Pressure: 102300}}}
}

// swift is a slim stage with a boat-tail that passes Mach 1 twice.
func swift() *sim.Setup {
	st := sim.Stage{Name: "swift", Length: 1.4, Diameter: 0.075, Mass: 2.5, CG: 0.75, Inertia: sim.Inertia{Axial: 3e-3, Transverse: 0.55},
		Nose:        sim.Nose{Shape: sim.Ogive, Length: 0.35},
		Transitions: []sim.Transition{{Front: 0.075, Rear: 0.06, Length: 0.08, Station: 1.32}},
		Fins:        []sim.Fins{{Count: 3, Root: 0.16, Tip: 0.07, Span: 0.09, Sweep: 0.09, Thickness: 0.004, Station: 1.15}},
		Drag:        sim.Drag{Points: []sim.DragPoint{{Mach: 0, Cd: 0.45}, {Mach: 0.8, Cd: 0.47}, {Mach: 1.05, Cd: 0.7}, {Mach: 1.5, Cd: 0.6}}},
		Mount: sim.Mount{Station: 0.9, Motor: sim.Motor{Name: "Larch", Propellant: 0.95, Case: 0.7, Length: 0.48, Diameter: 0.054, Thrust: []sim.ThrustPoint{
			{T: 0}, {T: 0.05, Thrust: 900}, {T: 0.4, Thrust: 1000}, {T: 1.6, Thrust: 800}, {T: 2.1, Thrust: 300}, {T: 2.3}}}}}
	return &sim.Setup{Limit: 100 * sim.Second, Wind: sim.Wind{Speed: 4, From: 310 * degree, Height: 10, Exponent: 0.2},
		Vehicle: sim.Vehicle{Stages: []sim.Stage{st}, Rail: sim.Rail{Length: 3, Tilt: 4 * degree, Azimuth: 300 * degree},
			Site: sim.Site{Latitude: 35 * degree, Elevation: 600, Temperature: 300, Pressure: 94000}}}
}

// untilApogee flies a vehicle ideally to its first stage's apogee, at a tolerance.
func untilApogee(s *sim.Setup, tolerance float64) *Flight {
	f := NewIdeal(s)
	f.tolerance = tolerance
	for f.at("apogee") < 0 && f.now < s.Limit {
		f.AdvanceTo(f.now + sim.Second)
	}
	return f
}

// found is what SciPy computes, in s, m, m/s, rad/s; nose and left are the body's x and y axes in world axes.
type found struct {
	Liftoff  float64    `json:"liftoff"`
	ApogeeAt float64    `json:"apogee_at"`
	Apogee   float64    `json:"apogee"`
	Speed    float64    `json:"speed"`
	East     float64    `json:"east"`
	North    float64    `json:"north"`
	Nose     [3]float64 `json:"nose"`
	Left     [3]float64 `json:"left"`
}

// The same equations written separately in Python, with other variables, and solved by SciPy's DOP853:
// 1e-6 on height, time, greatest speed, place and attitude of apogee.
func TestAgainstSciPy(t *testing.T) {
	for _, r := range reference {
		t.Run(r.name, func(t *testing.T) {
			t.Parallel()
			s := r.setup()
			const fine = 1e-11
			f := untilApogee(s, fine)
			if r.name == "transonic" {
				assert.Greater(t, f.Summary().Extremes.Mach, 1.1)
			}
			want := scipy(t, f)
			have := atApogee(t, r.setup(), f, fine)
			assert.InDelta(t, want.Liftoff, have.Liftoff, 1e-6, "liftoff")
			assert.InEpsilon(t, want.ApogeeAt, have.ApogeeAt, 1e-6, "time of apogee")
			assert.InEpsilon(t, want.Apogee, have.Apogee, 1e-6, "apogee")
			assert.InEpsilon(t, want.Speed, have.Speed, 1e-6, "greatest speed")
			assert.InDelta(t, want.East, have.East, 1e-6*want.Apogee, "east")
			assert.InDelta(t, want.North, have.North, 1e-6*want.Apogee, "north")
			for i := range 3 {
				assert.InDelta(t, want.Nose[i], have.Nose[i], 1e-6, "nose %d", i)
				assert.InDelta(t, want.Left[i], have.Left[i], 1e-6, "left %d", i)
			}
			t.Logf("SciPy %+v", want)
			t.Logf("here  %+v", have)
			t.Logf("here, as flown %+v", atApogee(t, r.setup(), untilApogee(r.setup(), tolerance), tolerance))
		})
	}
}

// atApogee gives what a flight says, with the state at the nanosecond of apogee.
func atApogee(t *testing.T, s *sim.Setup, over *Flight, tolerance float64) found {
	t.Helper()
	at, up := sim.Time(-1), sim.Time(0)
	for _, e := range over.Events() {
		switch e.Name {
		case sim.EventApogee:
			at = e.At
		case sim.EventLiftoff:
			up = e.At
		}
	}
	require.Positive(t, at, "an apogee")
	f := NewIdeal(s)
	f.tolerance = tolerance
	f.AdvanceTo(at)
	st := f.States()[0]
	y := vector{6: st.Attitude.Real, 7: st.Attitude.Imag, 8: st.Attitude.Jmag, 9: st.Attitude.Kmag}
	r := y.rotation()
	return found{Liftoff: up.Seconds(), ApogeeAt: at.Seconds(), Apogee: st.Position.Z, Speed: f.Summary().Extremes.Speed,
		East: st.Position.X, North: st.Position.Y, Nose: [3]float64{r.xx, r.yx, r.zx}, Left: [3]float64{r.xy, r.yy, r.zy}}
}

// scipy runs testdata/sixdof.py on a flight's resolved numbers.
func scipy(t *testing.T, f *Flight) found {
	t.Helper()
	return scipyOn(t, resolved(f))
}

func scipyOn(t *testing.T, craft pyCraft) found {
	t.Helper()
	python := "/usr/bin/python3"
	if err := exec.Command(python, "-c", "import scipy").Run(); err != nil {
		require.NotEqual(t, "all", os.Getenv("DRYSTAGE_TOOLS"), "SciPy is missing: make tools")
		t.Skip("no SciPy here: apt-get install python3-scipy")
	}
	in, err := json.Marshal(craft)
	require.NoError(t, err)
	c := exec.CommandContext(t.Context(), python, "testdata/sixdof.py")
	var errs bytes.Buffer
	c.Stdin, c.Stderr = bytes.NewReader(in), &errs
	out, err := c.Output()
	require.NoError(t, err, errs.String())
	var x found
	require.NoError(t, json.Unmarshal(out, &x), "%s", out)
	return x
}

// siskin is a slim stage with six fins and a rough skin that passes Mach 1.4, with a nozzle for sea level.
func siskin(wind, tilt float64) *sim.Setup {
	st := sim.Stage{Name: "siskin", Length: 1.5, Diameter: 0.07, Mass: 2.4, CG: 0.78, Inertia: sim.Inertia{Axial: 2.6e-3, Transverse: 0.5},
		Nose: sim.Nose{Shape: sim.Cone, Length: 0.3},
		Fins: []sim.Fins{{Count: 6, Root: 0.14, Tip: 0.06, Span: 0.06, Sweep: 0.08, Thickness: 0.003, Station: 1.34}},
		Drag: sim.Drag{Built: true, Roughness: 2e-4},
		Mount: sim.Mount{Station: 0.95, Motor: sim.Motor{Name: "Elder", Propellant: 1.3, Case: 0.8, Length: 0.52, Diameter: 0.054, ExitArea: 1.2e-3, TestPressure: 99000,
			Thrust: []sim.ThrustPoint{{T: 0}, {T: 0.05, Thrust: 1200}, {T: 0.4, Thrust: 1300}, {T: 1.8, Thrust: 1000}, {T: 2.3, Thrust: 60}, {T: 2.5}}}}}
	return &sim.Setup{Limit: 100 * sim.Second, Wind: sim.Wind{Speed: wind, From: 310 * degree, Height: 10, Exponent: 0.2},
		Vehicle: sim.Vehicle{Stages: []sim.Stage{st}, Rail: sim.Rail{Length: 3, Tilt: tilt, Azimuth: 300 * degree},
			Site: sim.Site{Latitude: 35 * degree, Elevation: 600, Temperature: 300, Pressure: 94000}}}
}

// The new terms written again from their formulas and the vehicle's sizes, not from the numbers that are flown here:
// crossflow drag in strips with the factor of the length, six fins, jet damping with the change of inertia, rough skin
// above Mach 1, thrust that grows as the air thins, the round earth.
func TestTermsAgainstSciPy(t *testing.T) {
	for _, r := range []struct {
		reason     string
		wind, tilt float64
		within     float64
	}{{"calm air", 0, 3 * degree, 1e-6}, {"wind", 9, 3 * degree, 1e-5}} {
		t.Run(r.reason, func(t *testing.T) {
			t.Parallel()
			s := siskin(r.wind, r.tilt)
			f := untilApogee(s, 1e-10)
			assert.Greater(t, f.Summary().Extremes.Mach, 1.4)
			craft := resolved(f)
			craft.own(f)
			want, have := scipyOn(t, craft), atApogee(t, siskin(r.wind, r.tilt), f, 1e-10)
			assert.InEpsilon(t, want.ApogeeAt, have.ApogeeAt, r.within, "time of apogee")
			assert.InEpsilon(t, want.Apogee, have.Apogee, r.within, "apogee")
			assert.InEpsilon(t, want.Speed, have.Speed, r.within, "greatest speed")
			assert.InDelta(t, want.East, have.East, r.within*want.Apogee, "east")
			assert.InDelta(t, want.North, have.North, r.within*want.Apogee, "north")
			for i := range 3 {
				assert.InDelta(t, want.Nose[i], have.Nose[i], 1e-4, "nose %d", i)
			}
			t.Logf("SciPy %+v", want)
			t.Logf("here  %+v", have)
		})
	}
}

// own has the bodies' nose, sides, fins and skin worked out by sixdof.py from the sizes of one stage.
func (c *pyCraft) own(f *Flight) {
	s, shape := f.stages[0].spec, &f.shapes[0][0]
	c.Tolerance = 1e-9
	p, n := &c.Stages[0], &s.Fins[0]
	p.Nose, p.Diameter = s.Nose.Length, s.Diameter
	p.Fins = &pyFins{Count: n.Count, Root: n.Root, Tip: n.Tip, Span: n.Span, Sweep: n.Sweep, Station: n.Station}
	for i := range shape.parts {
		if m := shape.parts[i].machTable; m != nil {
			p.Fins.Slope, p.Fins.Shift = pyTables(m)
		}
	}
	b := &c.Bodies[0]
	b.Own, b.Parts, b.Drags = true, []pyPart{}, []pyDrag{}
	b.Built = &pyBuilt{Roughness: s.Drag.Roughness}
	for _, w := range shape.built.wetted {
		b.Built.Wetted = append(b.Built.Wetted, pyWetted{w.area, w.length})
	}
	for i := range shape.built.table {
		k := &shape.built.table[i]
		b.Built.On, b.Built.Off, b.Built.Factor = append(b.Built.On, k.on), append(b.Built.Off, k.off), append(b.Built.Factor, k.factor)
	}
}

type table [][4]float64

// The resolved numbers of a vehicle as sixdof.py reads them.
type (
	pyCraft struct {
		Site      map[string]float64 `json:"site"`
		Wind      map[string]float64 `json:"wind"`
		Rail      map[string]float64 `json:"rail"`
		Settled   float64            `json:"settled"`   // s after ignition: it has lifted off
		Tolerance float64            `json:"tolerance"` // of its solver
		Stages    []pyStage          `json:"stages"`
		Bodies    []pyBody           `json:"bodies"` // one after each separation
		Parts     []pyParting        `json:"parts"`
	}
	pyParting struct {
		At    float64 `json:"at"`
		Speed float64 `json:"speed"`
	}
	pyStage struct {
		Length     float64 `json:"length"`
		Mass       float64 `json:"mass"`
		CG         float64 `json:"cg"`
		Axial      float64 `json:"axial"`
		Transverse float64 `json:"transverse"`
		Lit        float64 `json:"lit"`
		Motor      pyMotor `json:"motor"`
		Nose       float64 `json:"nose"` // these for a body of its own sizes
		Diameter   float64 `json:"diameter"`
		Fins       *pyFins `json:"fins,omitempty"`
	}
	pyFins struct {
		Count   int     `json:"count"`
		Root    float64 `json:"root"`
		Tip     float64 `json:"tip"`
		Span    float64 `json:"span"`
		Sweep   float64 `json:"sweep"`
		Station float64 `json:"station"`
		Slope   table   `json:"slope"`
		Shift   table   `json:"shift"`
	}
	pyMotor struct {
		Propellant float64   `json:"propellant"`
		Case       float64   `json:"case"`
		Length     float64   `json:"length"`
		Diameter   float64   `json:"diameter"`
		Station    float64   `json:"station"`
		Exit       float64   `json:"exit"`
		Tested     float64   `json:"tested"`
		Times      []float64 `json:"times"`
		Thrust     []float64 `json:"thrust"`
	}
	pyBody struct {
		Top   int      `json:"top"`
		Low   int      `json:"low"`
		Parts []pyPart `json:"parts"`
		Roll  pyRoll   `json:"roll"`
		Drags []pyDrag `json:"drags"`
		Own   bool     `json:"own"`
		Built *pyBuilt `json:"built,omitempty"`
	}
	pyBuilt struct {
		Wetted    []pyWetted `json:"wetted"`
		Roughness float64    `json:"roughness"`
		On        table      `json:"on"`
		Off       table      `json:"off"`
		Factor    table      `json:"factor"`
	}
	pyWetted struct {
		Area   float64 `json:"area"`
		Length float64 `json:"length"`
	}
	pyPart struct {
		Place float64 `json:"place"`
		Body  float64 `json:"body"`
		Fin   float64 `json:"fin"`
		Cross float64 `json:"cross"`
		Slope table   `json:"slope"`
		Shift table   `json:"shift"`
	}
	pyRoll struct {
		Force float64 `json:"force"`
		Damp  float64 `json:"damp"`
		Drag  float64 `json:"drag"`
		Slope table   `json:"slope"`
	}
	pyDrag struct {
		Area float64   `json:"area"`
		Mach []float64 `json:"mach"`
		Cd   []float64 `json:"cd"`
	}
)

// resolved gives the numbers that a flight to apogee was flown with.
func resolved(f *Flight) pyCraft {
	v, w := &f.setup.Vehicle, &f.setup.Wind
	c := pyCraft{
		Site:    map[string]float64{"latitude": v.Site.Latitude, "elevation": v.Site.Elevation, "temperature": v.Site.Temperature, "pressure": v.Site.Pressure},
		Wind:    map[string]float64{"speed": w.Speed, "from": w.From, "height": w.Height, "exponent": w.Exponent},
		Rail:    map[string]float64{"length": v.Rail.Length, "tilt": v.Rail.Tilt, "azimuth": v.Rail.Azimuth},
		Settled: 0.04, Tolerance: 1e-11, Parts: []pyParting{},
	}
	for i := range f.stages {
		st := &f.stages[i]
		s, m := st.spec, &st.spec.Mount.Motor
		p := pyStage{Length: s.Length, Mass: s.Mass, CG: s.CG, Axial: s.Inertia.Axial, Transverse: s.Inertia.Transverse, Lit: st.motors[0].ignitedAt.Seconds(),
			Motor: pyMotor{Propellant: m.Propellant, Case: m.Case, Length: m.Length, Diameter: m.Diameter, Station: s.Mount.Station, Exit: m.ExitArea, Tested: m.MeasuredAt()}}
		for k, at := range st.motors[0].curve.at {
			p.Motor.Times, p.Motor.Thrust = append(p.Motor.Times, at.Seconds()), append(p.Motor.Thrust, st.motors[0].curve.thrust[k])
		}
		c.Stages = append(c.Stages, p)
	}
	low := len(f.stages) - 1
	c.Bodies = append(c.Bodies, pyForm(f, low))
	for ; low > 0; low-- {
		c.Parts = append(c.Parts, pyParting{At: f.at(f.stages[low].separation), Speed: f.stages[low].spec.Separation.Speed})
		c.Bodies = append(c.Bodies, pyForm(f, low-1))
	}
	return c
}

// pyForm is the form of the stages from the nose down to low.
func pyForm(f *Flight, low int) pyBody {
	s := &f.shapes[0][low]
	b := pyBody{Low: low, Roll: pyRoll{Force: s.roll.force, Damp: s.roll.damp, Drag: s.roll.drag}}
	b.Roll.Slope, _ = pyTables(s.roll.machTable)
	for _, p := range s.parts {
		x := pyPart{Place: p.place, Body: p.body, Fin: p.fin, Cross: p.cross}
		x.Slope, x.Shift = pyTables(p.machTable)
		b.Parts = append(b.Parts, x)
	}
	for _, d := range s.drags {
		x := pyDrag{Area: d.area, Mach: []float64{0}, Cd: []float64{d.cd.Cd}}
		if len(d.cd.Points) > 0 {
			x.Mach, x.Cd = nil, nil
		}
		for _, p := range d.cd.Points {
			x.Mach, x.Cd = append(x.Mach, p.Mach), append(x.Cd, p.Cd)
		}
		b.Drags = append(b.Drags, x)
	}
	return b
}

func pyTables(s *finMachTable) (slope, shift table) {
	slope, shift = table{}, table{}
	if s == nil {
		return
	}
	for i := range s {
		slope, shift = append(slope, s[i].slope), append(shift, s[i].shift)
	}
	return
}
