package logtest

import (
	"strings"
)

// Shape is how somebody keeps a log as text.
type Shape struct {
	Seed      uint64 // of the names
	Delimiter byte   // ',', ';', '\t' or ' '
	Comma     bool   // as the decimal sign
	Header    bool
	Remark    string // sign before the header, which makes it a remark
	Trailing  bool   // rows end in a delimiter
	Units     UnitsIn
	Before    []string          // lines above the header
	Time      string            // s, ms, us or clock
	Start     float64           // s, what the clock says at the log's first row
	Unit      map[string]string // by dimension: acceleration, pressure, length, temperature, rate, voltage, speed
	Repeat    bool              // slow parts' values stand in every row; else their cells are empty between
	Nothing   string            // what stands for no value: "", nan
	Quoted    bool              // names in quotes
	CRLF, BOM bool
	Extras    []string // columns that are none of the parts'
}

// UnitsIn says where a log tells its units.
type UnitsIn uint8

// The places of units.
const (
	InBrackets UnitsIn = iota // accel x (g)
	InSquare                  // accel x [g]
	Attached                  // accel_x(g)
	AfterScore                // accel_x_g
	InRow                     // a line of their own below the names
	Untold
)

// Plain is the shape that leaves nothing open: SI, commas, units in brackets.
func Plain() Shape {
	return Shape{Delimiter: ',', Header: true, Units: InSquare, Time: "s", Unit: unitsSI(), Seed: 0}
}

func unitsSI() map[string]string {
	return map[string]string{"acceleration": "m/s2", "pressure": "Pa", "length": "m", "temperature": "degC", "rate": "rad/s", "voltage": "V", "speed": "m/s", "angle": "deg"}
}

// DrawShape draws a shape.
func DrawShape(seed uint64) Shape {
	d := newDice(seed, "shape")
	s := Shape{Seed: 1 + seed, Header: d.maybe(0.92), Repeat: d.maybe(0.5), Quoted: d.maybe(0.05), CRLF: d.maybe(0.2), BOM: d.maybe(0.05)}
	s.Delimiter = pick(d, []byte(",,,;;\t ")...)
	s.Comma = s.Delimiter != ',' && d.maybe(0.4)
	s.Units = pick(d, InBrackets, InBrackets, InSquare, Attached, AfterScore, AfterScore, InRow, Untold)
	s.Time = pick(d, "s", "s", "ms", "ms", "us", "clock")
	s.Start = pick(d, 0, d.in(0, 40), d.in(0, 4000))
	if s.Time == "clock" {
		s.Start = d.in(30000, 70000)
	}
	s.Unit = unitsSI()
	for _, u := range []struct {
		dim   string
		units []string
	}{
		{"acceleration", []string{"m/s2", "m/s2", "g0", "g0", "ft/s2", "mg0"}}, {"pressure", []string{"Pa", "hPa", "mbar", "kPa", "inHg"}},
		{"length", []string{"m", "m", "ft"}}, {"temperature", []string{"degC", "degC", "degF", "K"}}, {"rate", []string{"rad/s", "deg/s", "deg/s"}},
		{"voltage", []string{"V", "V", "mV"}}, {"speed", []string{"m/s", "m/s", "ft/s"}},
	} {
		s.Unit[u.dim] = pick(d, u.units...)
	}
	if d.maybe(0.2) {
		sign := pick(d, "# ", "// ", "% ", "; ")
		if s.Delimiter == ';' && sign == "; " {
			sign = "# "
		}
		s.Before = []string{sign + "kept by the bay's own recorder", sign + "site 3, calm, 1 m/s of wind"}
	} else if d.maybe(0.07) {
		s.Before = []string{"Flight 12 of the green rocket", ""}
	}
	s.Remark = pick(d, "", "", "", "", "", "", "", "# ", "#", "% ")
	s.Trailing = s.Delimiter != ' ' && d.maybe(0.07)
	if s.Delimiter == ' ' {
		s.Nothing = "nan"
	} else if d.maybe(0.1) {
		s.Nothing = "NaN"
	}
	for _, x := range []string{"packet", "rssi", "mag_x", "cpu_temp", "loop_us", "checksum"} {
		if d.maybe(0.12) {
			s.Extras = append(s.Extras, x)
		}
	}
	return s
}

// dimensions of channels, by the first word that fits.
var dimensions = []struct{ part, dim string }{
	{"accelerometer", "acceleration"}, {"gyro", "rate"}, {"barometer pressure", "pressure"}, {"barometer temperature", "temperature"}, {"barometer height", "length"},
	{"gnss latitude", "angle"}, {"gnss longitude", "angle"}, {"gnss height", "length"}, {"gnss east", "speed"}, {"gnss north", "speed"}, {"gnss up", "speed"},
	{"battery", "voltage"}, {"speed", "speed"},
}

func dimension(is string) string {
	for _, x := range dimensions {
		if strings.HasPrefix(is, x.part) {
			return x.dim
		}
	}
	return ""
}

// written is how units are spelt, in brackets and as the last word of a name.
var written = map[string][2][]string{
	"m/s2": {{"m/s2", "m/s^2", "m/s²"}, {"ms2", "mps2"}}, "g0": {{"g", "G"}, {"g"}}, "ft/s2": {{"ft/s2", "ft/s^2"}, {"fps2", "fts2"}}, "mg0": {{"mg"}, {"mg"}},
	"Pa": {{"Pa"}, {"Pa", "pa"}}, "hPa": {{"hPa"}, {"hPa", "hpa"}}, "mbar": {{"mbar"}, {"mbar"}}, "kPa": {{"kPa"}, {"kPa", "kpa"}}, "inHg": {{"inHg"}, {"inHg", "inhg"}},
	"m": {{"m"}, {"m"}}, "ft": {{"ft", "feet"}, {"ft", "feet"}}, "degC": {{"degC", "C", "°C"}, {"C", "degC"}}, "degF": {{"degF", "°F", "F"}, {"F", "degF"}}, "K": {{"K"}, {"K"}},
	"rad/s": {{"rad/s"}, {"rads", "rps"}}, "deg/s": {{"deg/s", "dps", "°/s"}, {"dps"}}, "V": {{"V"}, {"V", "v"}}, "mV": {{"mV"}, {"mV", "mv"}},
	"m/s": {{"m/s"}, {"mps", "ms"}}, "ft/s": {{"ft/s", "fps"}, {"fps"}}, "deg": {{"deg", "°"}, {"deg"}}, "s": {{"s", "sec"}, {"s", "sec"}}, "ms": {{"ms"}, {"ms"}}, "us": {{"us", "µs"}, {"us"}},
}

// names is what people call a channel; X stands for its axis.
var names = []struct {
	is   string
	list []string
}{
	{"accelerometer", []string{"accel_X", "aX", "acc_X", "AccX", "accelX", "Acceleration X", "accel.X", "acc X", "a_X", "AX"}},
	{"accelerometer alone", []string{"accel", "a", "acceleration", "Axial accel", "acc"}},
	{"gyro", []string{"gyro_X", "gX", "GyroX", "rate X", "Gyro X", "gyro.X", "wX", "omega_X", "gyr_X"}},
	{"barometer pressure", []string{"pressure", "press", "p", "P", "baro", "baro_pressure", "Pressure", "static pressure", "airPressure", "baro_p", "Baro press"}},
	{"barometer temperature", []string{"temp", "temperature", "Temperature", "baro_temp", "air temp"}},
	{"barometer height", []string{"altitude", "alt", "height", "baro_alt", "Altitude", "alt_agl", "Height above pad", "baroAlt"}},
	{"gnss latitude", []string{"lat", "latitude", "gps_lat", "Latitude", "gnss_lat", "gpsLat"}},
	{"gnss longitude", []string{"lon", "longitude", "gps_lon", "Longitude", "gnss_lon", "gps_lng"}},
	{"gnss height", []string{"gps_alt", "alt_msl", "gnss altitude", "GPS height", "GPS Altitude", "alt_gps", "altitude msl", "gpsAlt"}},
	{"gnss east", []string{"gps_ve", "gnss east", "GPS vel east", "gps_vel_e", "v_east"}},
	{"gnss north", []string{"gps_vn", "gnss north", "GPS vel north", "gps_vel_n", "v_north"}},
	{"gnss up", []string{"gps_vu", "gnss up", "GPS vel up", "gps_vel_u", "gps_climb"}},
	{"gnss fix", []string{"fix", "gps_fix", "fix type", "GPS Fix"}},
	{"gnss satellites", []string{"sats", "satellites", "num_sats", "gps_sats", "nsat"}},
	{"battery voltage", []string{"battery", "vbat", "batt", "battery_voltage", "Voltage", "Vbatt", "supply", "batt volts"}},
	{"output 1", []string{"pyro1", "pyro 1", "pyro_1", "out1", "output 1", "igniter", "Pyro1 fired"}},
	{"output 2", []string{"pyro2", "pyro 2", "pyro_2", "out2", "output 2", "drogue_fired", "Pyro2 fired"}},
	{"output 3", []string{"pyro3", "pyro 3", "pyro_3", "out3", "output 3", "main_fired", "Pyro3 fired"}},
	{"speed", []string{"velocity", "speed", "vel", "Vertical speed", "est_velocity", "v", "vz"}},
	{"state", []string{"state", "phase", "flight_state", "State", "mode"}},
	{"turn", []string{"angular_accel_z", "ang_acc_z", "Angular acceleration Z"}},
	{"time s", []string{"time", "t", "Time", "elapsed", "time_s", "seconds", "timestamp"}},
	{"time ms", []string{"ms", "millis", "time_ms", "t_ms", "timestamp", "Time"}},
	{"time us", []string{"us", "micros", "time_us", "t_us", "timestamp", "Time"}},
	{"time clock", []string{"time", "clock", "utc", "Time of day", "timestamp"}},
}

// name draws what a column is called.
func (s *Shape) name(is string, alone bool) string {
	axis, key := "", is
	if strings.HasPrefix(is, "accelerometer ") || strings.HasPrefix(is, "gyro ") {
		key, axis, _ = strings.Cut(is, " ")
		if alone {
			key += " alone"
		}
	}
	for _, n := range names {
		if n.is != key {
			continue
		}
		if s.Seed == 0 { // the plain shape
			return strings.TrimSuffix(is, " "+s.Time)
		}
		name := n.list[newDice(s.Seed, "name "+key).n(len(n.list))]
		if name == "AX" {
			axis = strings.ToUpper(axis)
			name = "aX"
			return "A" + axis
		}
		if axis != "" && !strings.Contains(name, "X") {
			return name
		}
		return strings.Replace(name, "X", map[bool]string{true: strings.ToUpper(axis), false: axis}[strings.Contains(name, "ccX") || strings.Contains(name, " X") || strings.Contains(name, "oX") || strings.Contains(name, "lX")], 1)
	}
	return is
}
