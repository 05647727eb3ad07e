package logs

import (
	"regexp"
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"

	"drystage/sim/quantity"
)

// spellings of units that headers have, by what they measure, and how quantity writes them. A spelling is
// looked up in lower case.
var spellings = map[quantity.Dimension]map[string]string{
	quantity.Acceleration: {"g": "g0", "gee": "g0", "gs": "g0", "g's": "g0", "mg": "mg0", "m/s/s": "m/s2", "m/s^2": "m/s2", "m/s²": "m/s2", "m/sec2": "m/s2", "ms2": "m/s2", "ms-2": "m/s2", "mps2": "m/s2", "m s-2": "m/s2",
		"ft/s^2": "ft/s2", "ft/s²": "ft/s2", "ft/s/s": "ft/s2", "ft/sec2": "ft/s2", "fts2": "ft/s2", "fps2": "ft/s2"},
	quantity.Pressure:            {"millibar": "mbar", "millibars": "mbar", "mb": "mbar", "mbars": "mbar", "pascal": "Pa", "pascals": "Pa", "in hg": "inHg", "in.hg": "inHg", "\"hg": "inHg"},
	quantity.Temperature:         {"c": "degC", "°c": "degC", "celsius": "degC", "deg c": "degC", "f": "degF", "°f": "degF", "deg f": "degF", "fahrenheit": "degF", "k": "K", "kelvin": "K"},
	quantity.AngularRate:         {"dps": "deg/s", "°/s": "deg/s", "degs": "deg/s", "deg/sec": "deg/s", "rps": "rad/s", "rads": "rad/s", "rad/sec": "rad/s"},
	quantity.AngularAcceleration: {"°/s2": "deg/s2", "deg/s^2": "deg/s2", "deg/s²": "deg/s2", "rad/s^2": "rad/s2", "rad/s²": "rad/s2", "rads2": "rad/s2"},
	quantity.Angle:               {"°": "deg", "degree": "deg", "degrees": "deg", "radians": "rad"},
	quantity.Length:              {"feet": "ft", "foot": "ft", "'": "ft", "meter": "m", "metre": "m", "meters": "m", "metres": "m"},
	quantity.Speed:               {"mps": "m/s", "ms": "m/s", "m/sec": "m/s", "fps": "ft/s", "ft/sec": "ft/s", "feet/s": "ft/s", "feet/sec": "ft/s", "knots": "kn", "kt": "kn", "kts": "kn", "kph": "km/h", "kmh": "km/h"},
	quantity.Time: {"sec": "s", "secs": "s", "second": "s", "seconds": "s", "msec": "ms", "millis": "ms", "millisecond": "ms", "milliseconds": "ms",
		"usec": "us", "micros": "us", "microsecond": "us", "microseconds": "us", "µs": "us", "μs": "us", "minutes": "min"},
	quantity.Voltage: {"volt": "V", "volts": "V", "millivolt": "mV", "millivolts": "mV"},
}

// unitOf gives the unit of a dimension that a text means; "" when it means none.
func unitOf(text string, d quantity.Dimension) string {
	text = strings.TrimSpace(text)
	if text == "" {
		return ""
	}
	if u, ok := spellings[d][strings.ToLower(text)]; ok {
		return u
	}
	for _, u := range quantity.Units(d) {
		if u == text || u != "" && u != "m" && strings.EqualFold(u, text) {
			return u
		}
	}
	return ""
}

// isUnit says that a text is a unit of anything that logs hold.
func isUnit(text string) bool {
	for d := range spellings {
		if unitOf(text, d) != "" {
			return true
		}
	}
	return false
}

// title is a column's name, taken apart.
type title struct {
	words []string // in lower case, without a unit in brackets
	unit  string   // as it stands in brackets, or in a line of units
	raw   bool     // counts of a converter
}

var bracketed = regexp.MustCompile(`[\[({]([^\])}]*)[\])}]\s*$`)

func newTitle(name, unit string) title {
	t := title{unit: unit}
	if !utf8.ValidString(name) {
		name = strings.ReplaceAll(name, "\xb0", "°") // the degree sign of an old encoding
	}
	if m := bracketed.FindStringSubmatch(name); m != nil && unit == "" {
		name = strings.TrimSpace(bracketed.ReplaceAllString(name, ""))
		if t.unit = m[1]; !isUnit(t.unit) {
			name, t.unit = name+" "+m[1], "" // a remark
		}
	}
	for _, w := range strings.FieldsFunc(strings.ReplaceAll(name, "°", " °"), func(r rune) bool { return !unicode.IsLetter(r) && r != '°' && !unicode.IsDigit(r) }) {
		t.words = append(t.words, apart(w)...)
	}
	t.raw = slices.ContainsFunc(t.words, func(w string) bool { return slices.Contains([]string{"raw", "counts", "count", "lsb", "adc"}, w) })
	return t
}

// apart parts a name's word where small letters turn into capitals or letters into digits, unless it is a unit.
func apart(w string) (out []string) {
	if isUnit(w) && len(w) > 1 {
		return []string{strings.ToLower(w)}
	}
	from := 0
	r := []rune(w)
	for i := 1; i <= len(r); i++ {
		if i == len(r) || unicode.IsLower(r[i-1]) && unicode.IsUpper(r[i]) || unicode.IsLetter(r[i-1]) && unicode.IsDigit(r[i]) && !isUnit(string(r[from:])) || unicode.IsDigit(r[i-1]) && unicode.IsLetter(r[i]) {
			out = append(out, strings.ToLower(string(r[from:i])))
			from = i
		}
	}
	return out
}

func (t *title) has(list ...string) bool {
	return slices.ContainsFunc(t.words, func(w string) bool { return slices.Contains(list, w) })
}

// only says that the name has just one word, one of these.
func (t *title) only(list ...string) bool {
	return len(t.words) == 1 && slices.Contains(list, t.words[0])
}

// measures says that the unit that is told is one of a dimension.
func (t *title) measures(d quantity.Dimension) bool { return unitOf(t.unit, d) != "" }

// axis gives x, y or z: a word of its own, or the end of one such as ax, accelx or gyroz.
func (t *title) axis() string {
	for _, w := range t.words {
		switch stem, last := w[:len(w)-1], w[len(w)-1:]; {
		case !strings.Contains("xyz", last):
		case stem == "", slices.Contains([]string{"a", "g", "w", "acc", "accel", "gyro", "gyr", "acceleration", "omega", "rate"}, stem):
			return last
		}
	}
	return ""
}

// trimmed gives the title with its last words taken as the unit, where they are one.
func (t *title) trimmed() (out []title) {
	n := len(t.words)
	if t.unit != "" {
		return nil
	}
	for _, k := range []int{3, 2, 1} {
		if k >= n {
			continue
		}
		if u := strings.Join(t.words[n-k:], "/"); k == 3 && isUnit(t.words[n-3]+"/"+t.words[n-2]+t.words[n-1]) { // m_s2 is taken apart to m, s, 2
			out = append(out, title{words: t.words[:n-k], unit: t.words[n-3] + "/" + t.words[n-2] + t.words[n-1]})
		} else if k < 3 && isUnit(u) {
			out = append(out, title{words: t.words[:n-k], unit: u})
		} else if u := strings.Join(t.words[n-k:], ""); k == 2 && isUnit(u) { // ms2
			out = append(out, title{words: t.words[:n-k], unit: u})
		}
	}
	return out
}
