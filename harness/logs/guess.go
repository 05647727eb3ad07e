package logs

import (
	"fmt"
	"math"
	"regexp"
	"slices"
	"strings"

	"drystage/sim"
	"drystage/sim/quantity"
)

var bracketed = regexp.MustCompile(`[\[({]([^\])}]+)[\])}]\s*$`)

// spellings of units that headers have, and how quantity writes them.
var spellings = map[string]string{
	"g": "g0", "gee": "g0", "gs": "g0", "m/s/s": "m/s2", "m/s^2": "m/s2", "m/s²": "m/s2", "ms2": "m/s2", "mps2": "m/s2", "m s-2": "m/s2",
	"mg": "mg0", "c": "degC", "°c": "degC", "degc": "degC", "celsius": "degC", "°f": "degF", "f": "degF", "k": "K", "dps": "deg/s", "°/s": "deg/s",
	"rps": "rad/s", "°": "deg", "degrees": "deg", "pa": "Pa", "hpa": "hPa", "kpa": "kPa", "v": "V", "mv": "mV", "feet": "ft", "mps": "m/s",
	"fps": "ft/s", "knots": "kn", "kt": "kn", "kts": "kn", "sec": "s", "seconds": "s", "msec": "ms", "millis": "ms", "usec": "us", "micros": "us", "µs": "us",
	"meters": "m", "metres": "m", "volts": "V", "millibar": "mbar",
}

// unitIn reads the unit of a header: in brackets at its end, or as its last word.
func unitIn(name string) string {
	if m := bracketed.FindStringSubmatch(name); m != nil {
		return spelt(m[1])
	}
	words := strings.FieldsFunc(name, func(r rune) bool { return r == '_' || r == ' ' || r == '-' })
	if len(words) > 1 {
		if u := spelt(words[len(words)-1]); known(u) {
			return u
		}
	}
	return ""
}

func spelt(u string) string {
	u = strings.TrimSpace(u)
	if s, ok := spellings[strings.ToLower(u)]; ok {
		return s
	}
	return u
}

func known(u string) bool {
	for _, d := range quantity.Dimensions() {
		if u != "" && slices.Contains(quantity.Units(d), u) {
			return true
		}
	}
	return false
}

var fence = regexp.MustCompile(`[^a-z]+`)

// meaning knows what a header's words say; "" when it does not. The words are plain English; no file
// format of anybody is looked for.
func meaning(name string) string {
	low := strings.ToLower(bracketed.ReplaceAllString(name, ""))
	for _, c := range channels {
		if strings.TrimSpace(low) == c.Word {
			return c.Word
		}
	}
	words := strings.Fields(fence.ReplaceAllString(low, " "))
	has := func(list ...string) bool {
		return slices.ContainsFunc(words, func(w string) bool { return slices.Contains(list, w) })
	}
	axis := ""
	for _, w := range words {
		if len(w) <= 2 && strings.ContainsAny(w[len(w)-1:], "xyz") {
			axis = w[len(w)-1:]
		}
	}
	gnss := has("gnss", "gps", "sat", "satellite")
	switch {
	case axis != "" && (has("accel", "acceleration", "acc", "accelerometer") || has("ax", "ay", "az")):
		return "accelerometer " + axis
	case axis != "" && (has("gyro", "gyroscope", "rate", "omega", "gyr") || has("gx", "gy", "gz", "wx", "wy", "wz")):
		return "gyro " + axis
	case has("accel", "acceleration", "acc", "accelerometer"):
		return "accelerometer x"
	case has("pressure", "press", "pres", "baro", "barometer") && !has("height", "altitude", "alt", "temperature", "temp"):
		return "barometer pressure"
	case has("latitude", "lat"):
		return "gnss latitude"
	case has("longitude", "lon", "lng", "long"):
		return "gnss longitude"
	case gnss && has("height", "altitude", "alt"):
		return "gnss height"
	case has("height", "altitude", "alt"):
		return "barometer height"
	case has("temperature", "temp"):
		return "barometer temperature"
	case has("voltage", "battery", "volt", "volts", "vbat", "batt"):
		return "battery voltage"
	case has("satellites", "sats"):
		return "gnss satellites"
	case has("fix"):
		return "gnss fix"
	case gnss && has("east"):
		return "gnss east"
	case gnss && has("north"):
		return "gnss north"
	case gnss && has("up", "climb"):
		return "gnss up"
	}
	return ""
}

// unit proposes a column's unit: that of the header, or one that makes sense of the numbers on the
// pad. "?" when it must be asked.
func (g *glance) unit(i int, ch Channel) (unit, why string) {
	if u := g.units[i]; u != "" && slices.Contains(quantity.Units(ch.Dim), u) {
		return u, ""
	}
	if ch.Dim == quantity.Number {
		return "", ""
	}
	x := append([]float64(nil), g.data[i][:min(len(g.data[i]), 200)]...)
	slices.Sort(x)
	mid, greatest := x[len(x)/2], max(math.Abs(slices.Min(g.data[i])), math.Abs(slices.Max(g.data[i])))
	switch ch.Dim {
	case quantity.Pressure:
		for _, c := range []struct {
			unit      string
			low, high float64
		}{{"Pa", 50000, 110000}, {"hPa", 500, 1100}, {"kPa", 50, 110}, {"bar", 0.5, 1.1}} {
			if mid > c.low && mid < c.high {
				return c.unit, fmt.Sprintf("%g at the beginning is the air's pressure in %s", mid, c.unit)
			}
		}
	case quantity.Acceleration:
		return g.gravity(ch)
	case quantity.AngularRate:
		if greatest > 40 {
			return "deg/s", fmt.Sprintf("%g would be %g turns a second in rad/s", greatest, math.Round(greatest/2/math.Pi))
		}
	case quantity.Angle:
		if greatest > 3.2 {
			return "deg", "too large for rad"
		}
	case quantity.Voltage:
		if mid > 1 && mid < 60 {
			return "V", "a battery's voltage"
		} else if mid > 1000 && mid < 60000 {
			return "mV", "a battery's voltage in mV"
		}
	case quantity.Temperature:
		if mid > 230 && mid < 330 {
			return "K", "air's temperature in K"
		} else if mid > -40 && mid < 45 {
			return "degC", "air's temperature in degC; degF can't be told from it"
		}
	}
	return "?", ""
}

// gravity proposes the unit of an acceleration by what all its axes read on the pad: one g.
func (g *glance) gravity(ch Channel) (unit, why string) {
	sum, n := 0.0, 0
	for i, name := range g.names {
		if c, ok := channelNamed(meaning(name)); ok && c.Part == sim.PartAccel && len(g.data[i]) > 0 {
			head := g.data[i][:min(len(g.data[i]), 200)]
			mean := 0.0
			for _, x := range head {
				mean += x / float64(len(head))
			}
			sum += mean * mean
			n++
		}
	}
	for _, c := range []struct {
		unit string
		one  float64
	}{{"m/s2", 9.81}, {"g0", 1}, {"mg0", 1000}} {
		if r := math.Sqrt(sum) / c.one; n > 0 && r > 0.9 && r < 1.1 {
			return c.unit, fmt.Sprintf("%.3g at the beginning is one g in %s", math.Sqrt(sum), c.unit)
		}
	}
	return "?", ""
}

// clock proposes how rows tell their time, and gives the column of it, or -1.
func (g *glance) clock() int {
	for i := range g.width {
		low := strings.ToLower(bracketed.ReplaceAllString(g.names[i], ""))
		words := strings.Fields(fence.ReplaceAllString(low, " "))
		named := slices.ContainsFunc(words, func(w string) bool {
			return slices.Contains([]string{"time", "t", "timestamp", "millis", "micros", "clock", "tick", "ticks", "zeit"}, w)
		})
		if !named && !(g.header == 0 && i == 0) || len(g.data[i]) < 2 || !rising(g.data[i]) {
			continue
		}
		c := &g.p.Mapping.Time
		c.Column = g.label(i)
		c.Unit = g.clockUnit(i, words)
		return i
	}
	return -1
}

func rising(x []float64) bool {
	up := 0
	for i := 1; i < len(x); i++ {
		if x[i] >= x[i-1] {
			up++
		}
	}
	return up*10 >= 9*(len(x)-1)
}

func (g *glance) clockUnit(i int, words []string) string {
	if slices.Contains(clockUnits, g.units[i]) {
		return g.units[i]
	}
	if cells := split(g.rows[len(g.rows)/2], g.delim, nil); i < len(cells) {
		if _, ok := number(cells[i].text, g.comma); !ok {
			return "clock"
		}
	}
	switch {
	case slices.Contains(words, "millis"):
		return "ms"
	case slices.Contains(words, "micros"):
		return "us"
	}
	steps, whole := make([]float64, 0, len(g.data[i])), true
	for k := 1; k < len(g.data[i]); k++ {
		if d := g.data[i][k] - g.data[i][k-1]; d > 0 {
			steps = append(steps, d)
		}
		whole = whole && g.data[i][k] == math.Trunc(g.data[i][k])
	}
	if len(steps) == 0 {
		return "s"
	}
	slices.Sort(steps)
	step := steps[len(steps)/2]
	tell := func(u, per string) string {
		g.p.Because["time"] = fmt.Sprintf("rows are %g apart: %s", step, per)
		return u
	}
	switch {
	case !whole && step < 2:
		return tell("s", "seconds with decimals")
	case whole && step > 1000:
		return tell("us", "whole microseconds")
	case whole && step >= 2:
		return tell("ms", "whole milliseconds")
	}
	g.doubt("time: rows are %g apart; are these s, ms, or ticks (then give rate)?", step)
	return "ms"
}

// slower gives the rate of a sensor that is slower than the rows, and whose value is repeated in them; ""
// when it is not. It rests on the usual number of rows between two changes.
func (g *glance) slower(i int) string {
	x := g.data[i]
	if g.gaps[i] > 0.2 || len(x) < 200 {
		return ""
	}
	var runs []float64
	last := 0
	for k := 1; k < len(x); k++ {
		if x[k] != x[k-1] {
			runs = append(runs, float64(k-last))
			last = k
		}
	}
	if len(runs) < 20 {
		return ""
	}
	least := slices.Min(runs)
	if least < 2 {
		return ""
	}
	if step := g.step(); step > 0 {
		return fmt.Sprintf("%g Hz", math.Round(1/(least*step)*100)/100)
	}
	return ""
}

// step is the usual time between rows in s; 0 when it isn't known.
func (g *glance) step() float64 {
	t := newTicker(&g.p.Mapping.Time)
	for i := range g.width {
		if g.label(i) == g.p.Mapping.Time.Column && len(g.data[i]) > 1 {
			d := make([]float64, len(g.data[i])-1)
			for k := range d {
				d[k] = g.data[i][k+1] - g.data[i][k]
			}
			slices.Sort(d)
			return d[len(d)/2] * t.factor
		}
	}
	return 0
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
