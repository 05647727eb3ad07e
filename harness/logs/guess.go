package logs

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"drystage/sim"
	"drystage/sim/quantity"
)

// guessed is what is found out about a column's unit.
type guessed struct {
	unit  string
	scale *float64
	why   string // what the guess rests on
	doubt string // what has to be asked
	leave string // why the column is better left out
}

// span is where a column's numbers lie on the pad, in a unit.
type span struct {
	unit      string
	low, high float64
	what      string
}

// What a column reads on the pad, by unit. The air's pressure: of sites from below the sea to 5,500 m. A battery:
// from one cell to sixty volts.
var spans = map[quantity.Dimension][]span{
	quantity.Pressure:    {{"Pa", 50000, 110000, "the air's pressure"}, {"hPa", 500, 1100, "the air's pressure"}, {"kPa", 50, 110, "the air's pressure"}, {"inHg", 14.8, 32.5, "the air's pressure"}, {"bar", 0.5, 1.1, "the air's pressure"}, {"psi", 7.25, 14.8, "the air's pressure"}},
	quantity.Voltage:     {{"V", 1, 60, "a battery's voltage"}, {"mV", 1000, 60000, "a battery's voltage"}},
	quantity.Temperature: {{"K", 230, 330, "air's temperature"}},
}

// unit finds out a column's unit: that of the header where the numbers don't speak against it, or one that makes
// sense of the numbers on the pad.
func (g *glance) unit(i int, u understood, d quantity.Dimension) guessed {
	pad := middle(g.onPad(i))
	switch {
	case d == quantity.Number:
		return guessed{}
	case u.off != "":
		return guessed{doubt: fmt.Sprintf("%q is no unit of %s", u.off, d)}
	case g.ours():
		return guessed{unit: u.unit}
	case d == quantity.Angle:
		return g.angle(i, u)
	case u.unit != "":
		return g.told(u.unit, d, pad)
	}
	for _, s := range spans[d] {
		if pad > s.low && pad < s.high {
			return guessed{unit: s.unit, why: fmt.Sprintf("%g at the beginning is %s in %s", pad, s.what, s.unit)}
		}
	}
	switch d {
	case quantity.Acceleration:
		return g.gravity()
	case quantity.AngularRate:
		return g.turning(i)
	case quantity.Length:
		return g.height(i, u.is)
	case quantity.Temperature, quantity.Speed:
		return guessed{leave: "its unit is not told, and its numbers don't tell"}
	}
	return guessed{doubt: "in which unit?"}
}

// told holds a unit that the header tells against what can be on the pad.
func (g *glance) told(unit string, d quantity.Dimension, pad float64) guessed {
	factor, shift, err := scale(unit, d)
	si := pad*factor + shift
	switch {
	case err != nil:
		return guessed{doubt: "in which unit?"}
	case d == quantity.Pressure && (si < 20000 || si > 115000):
		return guessed{unit: unit, doubt: fmt.Sprintf("%g %s at the beginning is no pressure of the air", pad, unit)}
	case d == quantity.Voltage && (si < 0.5 || si > 100):
		return guessed{unit: unit, doubt: fmt.Sprintf("%g %s at the beginning is no battery's voltage", pad, unit)}
	case d == quantity.Temperature && (si < 200 || si > 400):
		return guessed{unit: unit, doubt: fmt.Sprintf("%g %s at the beginning is no temperature of the air", pad, unit)}
	}
	return guessed{unit: unit}
}

// angle finds out how a latitude or longitude is written.
func (g *glance) angle(i int, u understood) guessed {
	greatest := 0.0
	for _, x := range seen(g.data[i]) {
		greatest = max(greatest, math.Abs(x))
	}
	most := 180.0
	if u.is == "gnss latitude" {
		most = 90
	}
	switch {
	case u.unit == "rad" && greatest <= math.Pi || u.unit == "deg" && greatest <= most:
		return guessed{unit: u.unit}
	case u.unit == "" && greatest > math.Pi && greatest <= most:
		return guessed{unit: "deg", why: "too large for rad"}
	case greatest > 1e5 && greatest <= most*1e7:
		s := 1e-7
		return guessed{unit: "deg", scale: &s, why: "whole numbers of 1e-7 deg", doubt: fmt.Sprintf("%g: is it in 1e-7 deg?", greatest)}
	case greatest > most:
		return guessed{unit: "deg", doubt: fmt.Sprintf("%g is no angle in deg; degrees and minutes in one number can't be read", greatest)}
	}
	return guessed{unit: "deg", doubt: "is it in deg or rad?"}
}

// gravity proposes the unit of an acceleration by what all its axes read on the pad: one g.
func (g *glance) gravity() guessed {
	sum := 0.0
	for i, u := range g.meant {
		if strings.HasPrefix(u.is, "accelerometer") && u.unit == "" {
			if x := g.onPad(i); len(x) > 0 {
				m := middle(x)
				sum += m * m
			}
		}
	}
	for _, c := range []span{{unit: "m/s2", low: 9.81}, {unit: "g0", low: 1}, {unit: "mg0", low: 1000}, {unit: "ft/s2", low: 32.17}} {
		if r := math.Sqrt(sum) / c.low; r > 0.9 && r < 1.1 {
			return guessed{unit: c.unit, why: fmt.Sprintf("%.3g at the beginning is one g in %s", math.Sqrt(sum), c.unit)}
		}
	}
	return guessed{doubt: "in which unit?"}
}

// turning proposes the unit of a gyro: parts for flight end at some 2,000 deg/s, which are 35 rad/s (common
// practice, no source).
func (g *glance) turning(i int) guessed {
	greatest := 0.0
	for k, u := range g.meant {
		if strings.HasPrefix(u.is, "gyro") && u.unit == "" {
			for _, x := range append(seen(g.data[k]), seen(g.far[k])...) {
				greatest = max(greatest, math.Abs(x))
			}
		}
	}
	if greatest > 40 {
		return guessed{unit: "deg/s", why: fmt.Sprintf("%g would be %g turns a second in rad/s", greatest, math.Round(greatest/2/math.Pi))}
	}
	return guessed{doubt: fmt.Sprintf("in which unit? %.3g at most may be rad/s or deg/s", greatest)}
}

// height tells metres from feet by the pressure beside it.
func (g *glance) height(i int, is string) guessed {
	p := g.find("barometer pressure")
	if p >= 0 {
		if u := g.unit(p, g.meant[p], quantity.Pressure); u.unit != "" && u.doubt == "" {
			factor, _, _ := scale(u.unit, quantity.Pressure)
			if ratio, rise := g.beside(i, p, factor); rise > 30 {
				for _, c := range []span{{unit: "m", low: 1}, {unit: "ft", low: 1 / 0.3048}} {
					if ratio > 0.8*c.low && ratio < 1.2*c.low {
						return guessed{unit: c.unit, why: fmt.Sprintf("it rises by %.3g where the pressure tells of 1 m", ratio)}
					}
				}
			}
		}
		if is == "barometer height" {
			return guessed{leave: "its unit is not told, and the pressure tells the height"}
		}
	}
	return guessed{doubt: "in which unit, m or ft?"}
}

// beside gives how a height grows with the height by pressure, and how far that goes in m.
func (g *glance) beside(i, p int, pascals float64) (ratio, rise float64) {
	zero, h0 := math.NaN(), math.NaN()
	for k := range g.data[i] {
		if x, y := g.data[i][k], g.data[p][k]; !math.IsNaN(x) && !math.IsNaN(y) {
			zero, h0 = y, x
			break
		}
	}
	look := func(x, y []float64) {
		for k := range x {
			// Height in the standard atmosphere's lowest layer (ISO 2533), near enough to tell feet from metres.
			if h := 44331 * (1 - math.Pow(y[k]/zero, 0.19026)); h > rise {
				rise, ratio = h, (x[k]-h0)/h
			}
		}
	}
	if zero*pascals > 0 {
		look(g.data[i], g.data[p])
		look(g.far[i], g.far[p])
	}
	return ratio, rise
}

// find gives the first column of a meaning, or -1.
func (g *glance) find(is string) int {
	return slices.IndexFunc(g.meant, func(u understood) bool { return u.is == is })
}

// pads holds the mapped accelerometer against the pad, where it reads one g.
func (g *glance) pads() {
	sum, axes := 0.0, 0
	for k, c := range g.p.Mapping.Columns {
		ch, ok := channelNamed(c.Is)
		x := g.onPad(g.index[k])
		if !ok || ch.Part != sim.PartAccel || c.Unit == "" || len(x) == 0 {
			continue
		}
		factor, shift, err := scale(c.Unit, ch.Dim)
		if err != nil {
			return
		}
		m := middle(x)*factor + shift
		sum, axes = sum+m*m, axes+1
	}
	if g1 := math.Sqrt(sum) / 9.80665; axes > 0 && (g1 > 1.3 || g1 < 0.7) {
		g.doubt("the accelerometer reads %.3g g at the beginning, where one on the pad reads 1: are unit and axes right, and does the log begin on the pad?", g1)
	}
}

const (
	padSpan = 1.0 // s at the beginning of a log that are taken for the pad: some begin so shortly before liftoff
	padRows = 200 // of them, where the time is not known
	padFew  = 5   // numbers at least
)

// onPad gives the numbers of a column in the first second, at least some.
func (g *glance) onPad(i int) []float64 {
	rows := padRows
	if step := g.step(); step > 0 {
		rows = int(min(padSpan/step, padRows)) + 1
	}
	x := seen(g.data[i][:min(rows, len(g.data[i]))])
	if len(x) < padFew {
		x = seen(g.data[i])
		x = x[:min(len(x), padFew)]
	}
	return x
}

// slower gives the rate of a sensor that is slower than the rows, and whose value is repeated in them. ok is
// false when each row may be a sample. It rests on the number of rows between two changes.
func (g *glance) slower(i int) (hz float64, ok bool) {
	x := g.data[i]
	if g.gaps[i] > 0.2 || len(x) < 100 {
		return 0, false
	}
	var runs []float64
	last := -1
	for k := 1; k < len(x); k++ {
		if x[k] != x[k-1] && !math.IsNaN(x[k]) && !math.IsNaN(x[k-1]) {
			if last >= 0 {
				runs = append(runs, float64(k-last))
			}
			last = k
		}
	}
	if len(runs) < 8 {
		return 0, last < 0 || len(runs) == 0
	}
	slices.Sort(runs)
	// Rows that are missing, and clocks of two sensors, make a run shorter; a value that is the same again makes it longer.
	usual := runs[len(runs)/5]
	if step := g.step(); runs[0] >= 2 && step > 0 {
		return math.Round(1/(usual*step)*100) / 100, true
	}
	return 0, false
}

// paced says that a column's values change in step, as those of a slower sensor do: hardly any of them stands in much fewer rows than is
// usual. A calm value of coarse steps, as a battery's, changes after any number of rows.
func (g *glance) paced(i int) bool {
	x := seen(g.data[i])
	var runs []float64
	last := 0
	for k := 1; k < len(x); k++ {
		if x[k] != x[k-1] {
			runs = append(runs, float64(k-last))
			last = k
		}
	}
	if len(runs) < pacedRuns {
		return false
	}
	slices.Sort(runs)
	usual, short, near := runs[len(runs)/5], 0, 0
	for _, r := range runs {
		if r < 0.6*usual {
			short++
		} else if r < 1.4*usual {
			near++
		}
	}
	return usual >= pacedRows && usual*g.step() < pacedSlow && short*20 <= len(runs) && near*3 >= len(runs)
}

const (
	pacedRuns = 20  // of equal values, that tell
	pacedRows = 4   // of one value, at least: fewer come by chance
	pacedSlow = 0.3 // s: what changes so seldom may as well be calm
)

// step is the usual time between rows in s; 0 when it isn't known.
func (g *glance) step() float64 {
	c := &g.p.Mapping.Time
	t := newTicker(c)
	if g.stepOf != c.Column {
		g.stepOf, g.usualStep = c.Column, 0
		for i := range g.width {
			if g.label(i) == c.Column {
				g.usualStep = middle(steps(g.data[i]))
				break
			}
		}
	}
	return g.usualStep * t.factor
}

// steps are the differences between neighbours in order of rows.
func steps(x []float64) []float64 {
	x = seen(x)
	if len(x) < 2 {
		return nil
	}
	d := make([]float64, len(x)-1)
	for k := range d {
		d[k] = x[k+1] - x[k]
	}
	return d
}

// upAxis asks when no axis of the accelerometer reads one g on the pad.
func (g *glance) upAxis() {
	for _, c := range g.p.Mapping.Columns {
		if strings.HasPrefix(c.Is, "accelerometer") && c.Unit == "" {
			g.doubt("the accelerometer's axes: x, y or z must be the one along the rocket, which reads one g on the pad")
			return
		}
	}
}
