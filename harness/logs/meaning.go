package logs

import (
	"slices"
	"strings"

	"drystage/sim/quantity"
)

// What a column can mean beside the channels of parts and outputs.
const (
	isTime    = "time"
	isCommand = "command"
	isOutput  = "output"      // with its number behind it in mappings
	ownSpeed  = "board speed" // what the board itself thought, upwards
	ownState  = "board state"
)

// dimensionOf gives what the numbers of a column measure.
func dimensionOf(is string) quantity.Dimension {
	if c, ok := channelNamed(is); ok {
		return c.Dim
	}
	switch is {
	case ownSpeed:
		return quantity.Speed
	case isTime:
		return quantity.Time
	}
	return quantity.Number
}

// understood is what a name says.
type understood struct {
	is   string // "" when it is of no use
	why  string // then: why it is left out
	unit string // of quantity.Units; "" when it isn't told
	off  string // the unit that is told, which is none of what the column measures
	ours bool   // the name is a word of mapping files, as Write writes it
	bare bool   // the name is a letter
}

const unknownName = "nothing is known of it by its name"

// understand reads a column's name, and the unit below it when there is a line of units.
func understand(name, unit string) understood {
	low := strings.ToLower(strings.TrimSpace(bracketed.ReplaceAllString(name, "")))
	t := newTitle(name, unit)
	if _, ok := channelNamed(low); ok || low == ownSpeed || low == ownState || low == isTime {
		u := understood{is: low, unit: unitOf(t.unit, dimensionOf(low)), off: off(t.unit, low)}
		u.ours = u.unit != "" || dimensionOf(low) == quantity.Number
		return u
	}
	for _, u := range t.trimmed() {
		is, why := u.meaning()
		if d := dimensionOf(is); is != "" && unitOf(u.unit, d) != "" {
			return understood{is: is, unit: unitOf(u.unit, d)}
		} else if is == "" && why != unknownName {
			return understood{why: why}
		}
	}
	is, why := t.meaning()
	bare := len(t.words) == 1 && len(t.words[0]) == 1 && t.unit == ""
	return understood{is: is, why: why, unit: unitOf(t.unit, dimensionOf(is)), off: off(t.unit, is), bare: bare}
}

func off(unit, is string) string {
	if is == "" || unit == "" || dimensionOf(is) == quantity.Number || unitOf(unit, dimensionOf(is)) != "" {
		return ""
	}
	return unit
}

// rule is a row of the table of names: the first that fits counts.
type rule struct {
	is  string // with %a for the axis
	why string // of what is of no use
	fit func(t *title, axis string) bool
}

func any_(list ...string) func(*title, string) bool {
	return func(t *title, _ string) bool { return t.has(list...) }
}

var (
	accelWords = []string{"accel", "acceleration", "acc", "accelerometer", "specific"}
	gyroWords  = []string{"gyro", "gyroscope", "omega", "gyr", "rate"}
	gnssWords  = []string{"gnss", "gps", "sat", "satellite", "geoid", "ellipsoid", "wgs"}
	speedWords = []string{"velocity", "speed", "vel", "vz", "ve", "vn", "vu"}
	highWords  = []string{"height", "altitude", "alt", "agl", "msl", "asl", "elevation"}
	pressWords = []string{"pressure", "press", "pres", "baro", "barometer"}
)

// rules know plain English words of the trade; no file format of anybody is looked for.
var rules = []rule{
	{why: "an angular acceleration, which no gyro measures", fit: func(t *title, _ string) bool {
		return t.measures(quantity.AngularAcceleration) || t.has("angular", "ang") && t.has(accelWords...)
	}},
	{why: "a magnetic field", fit: any_("mag", "magnetometer", "compass", "magnetic")},
	{why: "a wish or a bound, not a measurement", fit: any_("target", "max", "maximum", "min", "minimum", "predicted", "goal", "setpoint", "expected")},
	{why: "a part of the flight computer", fit: func(t *title, _ string) bool {
		return t.has("cpu", "mcu", "chip", "core", "loop", "crc", "checksum", "rssi", "snr", "packet")
	}},
	{why: "whether an igniter is connected, not whether it was fired", fit: any_("continuity", "cont")},
	{is: isCommand, fit: func(t *title, _ string) bool { return t.only("command") }},
	{is: "gnss east", fit: func(t *title, _ string) bool {
		return t.has(gnssWords...) && t.has("east", "ve") || t.has(gnssWords...) && t.has(speedWords...) && t.has("e") || t.has(speedWords...) && t.has("east") || t.has("v") && t.has("east")
	}},
	{is: "gnss north", fit: func(t *title, _ string) bool {
		return t.has(gnssWords...) && t.has("north", "vn") || t.has(gnssWords...) && t.has(speedWords...) && t.has("n") || t.has(speedWords...) && t.has("north") || t.has("v") && t.has("north")
	}},
	{is: "gnss up", fit: func(t *title, _ string) bool {
		return t.has(gnssWords...) && (t.has("up", "climb", "vu") || t.has(speedWords...) && t.has("u"))
	}},
	{why: "a downward or level speed of a receiver", fit: func(t *title, _ string) bool {
		return t.has(gnssWords...) && (t.has(speedWords...) || t.has("course", "heading", "vd", "down"))
	}},
	{is: "gnss satellites", fit: any_("satellites", "sats", "nsat", "numsats", "nsats", "numsat", "sv", "svs", "numsv")},
	{is: "gnss fix", fit: func(t *title, _ string) bool { return t.has("fix") }},
	{is: "gnss latitude", fit: any_("latitude", "lat")},
	{is: "gnss longitude", fit: func(t *title, _ string) bool {
		return t.has("longitude", "lon", "lng") || t.has("long") && !t.has(accelWords...) && !t.measures(quantity.Acceleration)
	}},
	{is: "accelerometer %a", fit: func(t *title, axis string) bool {
		return axis != "" && (t.has(accelWords...) || t.has("a"+axis, "acc"+axis, "accel"+axis, "acceleration"+axis, "a") || t.measures(quantity.Acceleration) || t.has("high", "low") && t.has("g"))
	}},
	{is: "gyro %a", fit: func(t *title, axis string) bool {
		return axis != "" && (t.has(gyroWords...) || t.has("g"+axis, "w"+axis, "w", "gyro"+axis, "gyr"+axis, "omega"+axis, "rate"+axis) || len(t.words) == 1 && t.measures(quantity.AngularRate))
	}},
	{is: "gyro %a", fit: func(t *title, axis string) bool {
		return axis != "" && (t.measures(quantity.AngularRate) || t.has("angular", "ang", "rot", "rotation", "rotational") && t.has(append(speedWords, "rate", "rates")...))
	}},
	{is: ownSpeed, fit: func(t *title, _ string) bool {
		return !t.measures(quantity.AngularRate) && !t.has("angular", "ang", "rot", "rotation", "air", "airspeed", "wind", "east", "north", "x", "y") && (t.has(speedWords...) || t.has("climb", "descent") || t.only("v") && !t.measures(quantity.Voltage))
	}},
	{is: "accelerometer x", fit: func(t *title, _ string) bool {
		return t.has(accelWords...) && !t.has("lateral", "total", "norm", "magnitude", "vertical", "linear") || t.only("a")
	}},
	{is: "accelerometer x", fit: func(t *title, _ string) bool {
		return t.measures(quantity.Acceleration) && t.has("axial", "high", "low", "long", "longitudinal")
	}},
	{why: "an acceleration of no single axis of the part", fit: any_(accelWords...)},
	{why: "another pressure than the air's", fit: func(t *title, _ string) bool {
		return t.has(pressWords...) && t.has("dynamic", "pitot", "chamber", "tank", "differential", "diff", "ejection", "motor", "total")
	}},
	{is: "barometer height", fit: func(t *title, _ string) bool { return t.has(pressWords...) && t.has(highWords...) }},
	{is: "barometer temperature", fit: func(t *title, _ string) bool {
		return (t.has("temperature", "temp") || t.measures(quantity.Temperature) && t.has("t", "air", "baro", "ambient")) && !t.has("battery", "batt", "motor", "case", "nozzle", "board", "imu")
	}},
	{why: "another temperature than the barometer's", fit: func(t *title, _ string) bool {
		return t.has("temperature", "temp") || t.measures(quantity.Temperature)
	}},
	{is: "barometer pressure", fit: func(t *title, _ string) bool {
		return t.has(pressWords...) || t.only("p") || t.has("p") && t.has("static", "air", "ambient", "abs", "raw", "counts", "adc")
	}},
	{is: "gnss height", fit: func(t *title, _ string) bool { return t.has(highWords...) && (t.has(gnssWords...) || t.has("msl")) }},
	{is: "barometer height", fit: func(t *title, _ string) bool { return t.has(highWords...) || t.only("h") && !t.measures(quantity.Time) }},
	{is: isOutput, fit: func(t *title, _ string) bool {
		return t.has("pyro", "out", "output", "fire", "fired", "igniter", "ignite", "drogue", "main", "deploy", "deployed", "charge", "ch", "channel", "relay") && !t.measures(quantity.Voltage) && !t.has("voltage", "volts", "current", "res", "resistance")
	}},
	{is: "battery voltage", fit: func(t *title, _ string) bool {
		return t.only("v", "u") && t.measures(quantity.Voltage) || t.has("battery", "vbat", "vbatt", "batt", "bat", "supply", "voltage", "volt", "volts", "lipo") && !t.has("pyro", "servo", "current", "percent")
	}},
	{is: ownState, fit: any_("state", "phase", "mode", "status", "stage")},
}

// meaning gives what the words say.
func (t *title) meaning() (is, why string) {
	axis := t.axis()
	for _, r := range rules {
		if r.fit(t, axis) {
			return strings.ReplaceAll(r.is, "%a", axis), r.why
		}
	}
	return "", unknownName
}

var clockWords = []string{"time", "timestamp", "clock", "elapsed", "utc", "uptime", "zeit", "tick", "ticks", "stamp", "datetime", "epoch", "unix"}

// clocks says that the words are a clock's. The letter t is one alone: beside other words it is a temperature.
func (t *title) clocks() bool { return t.has(clockWords...) || t.only("t") }

// clockLike says that a column is called as a clock is, and gives its unit when the name tells it.
func clockLike(name, unit string) (unitTold string, ok bool) {
	t := newTitle(name, unit)
	if t.has("loop", "delta", "dt", "crc") {
		return "", false
	}
	if len(t.words) == 1 && (t.unit == "" || t.measures(quantity.Time)) {
		if u := unitOf(t.words[0], quantity.Time); u != "" {
			return u, true
		}
	}
	told := append(t.trimmed(), t)
	if !slices.ContainsFunc(told, func(u title) bool { return u.clocks() && (u.unit == "" || u.measures(quantity.Time)) }) || t.unit != "" && !t.measures(quantity.Time) {
		return "", false
	}
	for _, u := range told {
		if got := unitOf(u.unit, quantity.Time); got != "" {
			return got, true
		}
	}
	if t.has("tick", "ticks") {
		return "ticks", true
	}
	i := slices.IndexFunc(t.words, func(w string) bool { return slices.Contains([]string{"millis", "micros"}, w) })
	if i >= 0 {
		return unitOf(t.words[i], quantity.Time), true
	}
	return "", true
}
