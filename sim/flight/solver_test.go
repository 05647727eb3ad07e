package flight

import (
	"math"
	"os"
	"strconv"
	"strings"
	"testing"

	"drystage/sim"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// upright is a vehicle of testdata/vertical.py: the standard day, no wind, 45 degrees north, a rail of no
// length, so that it flies straight up.
func upright(name string) *sim.Setup {
	flat := sim.Drag{Cd: 0.55}
	rise := sim.Drag{Points: []sim.DragPoint{{Mach: 0, Cd: 0.5}, {Mach: 0.8, Cd: 0.52}, {Mach: 1.05, Cd: 0.8}, {Mach: 1.5, Cd: 0.65}}}
	line := func(from, to, seconds, propellant float64) sim.Mount {
		return sim.Mount{Motor: sim.Motor{Propellant: propellant, Length: 0.1, Diameter: 0.02, Thrust: []sim.ThrustPoint{{T: 0, Thrust: from}, {T: seconds, Thrust: to}, {T: seconds + 1e-9}}}}
	}
	stage := func(name string, mass, diameter float64, d sim.Drag, m sim.Mount) sim.Stage {
		return sim.Stage{Name: name, Length: 1, Diameter: diameter, Mass: mass, CG: 0.5, Drag: d, Stacked: d, Mount: m}
	}
	var stages []sim.Stage
	switch name {
	case "subsonic":
		stages = []sim.Stage{stage("a", 1, 0.054, flat, line(60, 40, 2, 0.06))}
	case "transonic":
		stages = []sim.Stage{stage("a", 3.5, 0.075, rise, line(900, 500, 3, 1))}
	case "two-stage":
		stages = []sim.Stage{stage("a", 1.85, 0.06, flat, line(120, 90, 2, 0.15)), stage("b", 1, 0.06, flat, line(180, 120, 2, 0.2))}
		stages[1].Separation.Mode = sim.ByMotor
		stages[0].Mount.Lit = sim.Anchor{Event: "b.ignition", Offset: 3500 * millisecond}
	}
	return &sim.Setup{Limit: 1000 * second, Vehicle: sim.Vehicle{Stages: stages, Site: sim.Site{Latitude: 45 * degree}}}
}

// The same equations written separately in Python and solved by SciPy's DOP853 at 1e-12 agree to 1e-6 on
// apogee, its time and the greatest speed.
func TestAgainstSciPy(t *testing.T) {
	text, err := os.ReadFile("testdata/vertical.csv")
	require.NoError(t, err)
	rows := strings.Split(strings.TrimSpace(string(text)), "\n")[1:]
	require.Len(t, rows, 3)
	for _, row := range rows {
		cells := strings.Split(row, ",")
		want := make([]float64, 3)
		for i := range want {
			want[i], err = strconv.ParseFloat(cells[i+1], 64)
			require.NoError(t, err)
		}
		f := straightUp(cells[0], tolerance)
		m := f.Summary().Most
		assert.InEpsilon(t, want[0], f.at("apogee"), 1e-6, "%s: time of apogee", cells[0])
		assert.InEpsilon(t, want[1], m.Height, 1e-6, "%s: apogee", cells[0])
		assert.InEpsilon(t, want[2], m.Speed, 1e-6, "%s: greatest speed", cells[0])
	}
}

// straightUp flies a vehicle of the reference to its apogee at a tolerance.
func straightUp(name string, tolerance float64) *Flight {
	f := NewIdeal(upright(name))
	f.tolerance = tolerance
	for i := range f.shapes {
		for k := range f.shapes[i] {
			f.shapes[i][k].parts = nil // nothing across
		}
	}
	for f.at("apogee") < 0 && f.now < 200*second {
		f.To(f.now + second)
	}
	return f
}

// The error at apogee falls with the tolerance. The corners of a Cd table keep it from falling quite in
// proportion.
func TestErrorFollowsTolerance(t *testing.T) {
	best := straightUp("transonic", 1e-12).Summary().Most.Height
	at := func(tolerance float64) float64 {
		return math.Abs(straightUp("transonic", tolerance).Summary().Most.Height-best) / best
	}
	loose, tight := at(1e-4), at(1e-8)
	assert.Less(t, tight, 3e-7, "at the tolerance of every flight")
	assert.Less(t, tight, loose/50, "loose %.2g, tight %.2g", loose, tight)
}
