package logs

import (
	"testing"

	"github.com/stretchr/testify/assert"
)

// TestNames: what people call their columns, and what is not to be taken for something else.
func TestNames(t *testing.T) {
	for _, c := range []struct{ name, is, unit, reason string }{
		{"p_mbar", "barometer pressure", "mbar", "a letter with its unit"},
		{"p_hPa", "barometer pressure", "hPa", "a unit with a capital inside"},
		{"P (inHg)", "barometer pressure", "inHg", "inches of mercury"},
		{"pressure_kPa", "barometer pressure", "kPa", ""},
		{"Static Pressure [mbar]", "barometer pressure", "mbar", ""},
		{"baro_press_pa", "barometer pressure", "Pa", "small letters"},
		{"airPressure", "barometer pressure", "", "camel case"},
		{"p_static", "barometer pressure", "", ""},
		{"pres_pa", "barometer pressure", "Pa", ""},
		{"barometer", "barometer pressure", "", ""},
		{"dynamic pressure (Pa)", "", "", "not the air's at rest"},
		{"chamber_pressure_bar", "", "", "the motor's"},
		{"pitot_pa", "", "", "a speed"},
		{"a(g)", "accelerometer x", "g0", "one axis, no blank"},
		{"a [m/s^2]", "accelerometer x", "m/s2", ""},
		{"ax_g", "accelerometer x", "g0", ""},
		{"accel_y_fts2", "accelerometer y", "ft/s2", ""},
		{"Accel-Z (ft/s²)", "accelerometer z", "ft/s2", ""},
		{"accelZ_mg", "accelerometer z", "mg0", "milli-g, not milligrams"},
		{"IMU.accel.x", "accelerometer x", "", ""},
		{"acc_body_y (m/s/s)", "accelerometer y", "m/s2", ""},
		{"specific_force_x_m_s2", "accelerometer x", "m/s2", "as our own fly --csv"},
		{"x (g)", "accelerometer x", "g0", "the unit tells"},
		{"axial acceleration (G)", "accelerometer x", "g0", ""},
		{"AX", "accelerometer x", "", ""},
		{"angular_acceleration_x_rad_s2", "", "", "an acceleration of another kind"},
		{"ang_acc_z (deg/s²)", "", "", ""},
		{"total acceleration (g)", "", "", "no axis"},
		{"vertical acceleration (m/s2)", "", "", "of the earth's frame, without gravity"},
		{"gyro_x_dps", "gyro x", "deg/s", ""},
		{"gz [rad/s]", "gyro z", "rad/s", ""},
		{"rate_x_rad_s", "gyro x", "rad/s", ""},
		{"GyroY (°/s)", "gyro y", "deg/s", ""},
		{"Gyro X (°/s)", "gyro x", "deg/s", "a degree sign in UTF-8"},
		{"rate z (\xb0/s)", "gyro z", "deg/s", "and in an old encoding"},
		{"z (deg/s)", "gyro z", "deg/s", ""},
		{"omega y", "gyro y", "", ""},
		{"ang_vel_z", "gyro z", "", "a turning, not a speed"},
		{"angular velocity X (dps)", "gyro x", "deg/s", ""},
		{"rot rate Y [rad/s]", "gyro y", "rad/s", ""},
		{"T_air (°C)", "barometer temperature", "degC", "a letter beside a word is no clock's"},
		{"sample rate", "", "", "not a turning"},
		{"altitude (ft)", "barometer height", "ft", ""},
		{"Altitude AGL (ft)", "barometer height", "ft", ""},
		{"baro_alt_m", "barometer height", "m", ""},
		{"h (m)", "barometer height", "m", ""},
		{"h", "barometer height", "", ""},
		{"alt_msl", "gnss height", "", "above the sea is what a receiver says"},
		{"gps_alt_ft", "gnss height", "ft", ""},
		{"GNSS height [m]", "gnss height", "m", ""},
		{"gpsAlt", "gnss height", "", ""},
		{"target altitude (m)", "", "", "a wish"},
		{"max_alt", "", "", "not a measurement"},
		{"lat", "gnss latitude", "", ""},
		{"GPS Longitude (°)", "gnss longitude", "deg", ""},
		{"gps_lng", "gnss longitude", "", ""},
		{"gps_vel_u_mps", "gnss up", "m/s", ""},
		{"GPS vel east (ft/s)", "gnss east", "ft/s", ""},
		{"v_north", "gnss north", "", ""},
		{"gps speed (kn)", "", "", "over ground, without a direction"},
		{"gps_course", "", "", ""},
		{"num_sats", "gnss satellites", "", ""},
		{"num_sv", "gnss satellites", "", "space vehicles"},
		{"climb (feet/s)", ownSpeed, "ft/s", "feet in full"},
		{"GPS Fix", "gnss fix", "", ""},
		{"velocity (m/s)", ownSpeed, "m/s", "what the board thought"},
		{"vel_ms", ownSpeed, "m/s", "ms is no time here"},
		{"Vertical speed (fps)", ownSpeed, "ft/s", ""},
		{"v", ownSpeed, "", ""},
		{"vz", ownSpeed, "", ""},
		{"wind speed (m/s)", "", "", ""},
		{"state", ownState, "", ""},
		{"Flight Phase", ownState, "", ""},
		{"flightState", ownState, "", ""},
		{"pyro1", isOutput, "", ""},
		{"Pyro A", isOutput, "", ""},
		{"drogue_fired", isOutput, "", ""},
		{"main", isOutput, "", ""},
		{"out 2", isOutput, "", ""},
		{"pyro1 voltage (V)", "", "", "not the output itself"},
		{"pyro1_cont", "", "", "a continuity"},
		{"Continuity 1", "", "", ""},
		{"vbat", "battery voltage", "", ""},
		{"Battery (V)", "battery voltage", "V", ""},
		{"batt_mv", "battery voltage", "mV", ""},
		{"v (V)", "battery voltage", "V", "the unit tells"},
		{"battery_temp", "", "", ""},
		{"battery current (A)", "", "", ""},
		{"temp_C", "barometer temperature", "degC", ""},
		{"Temperature (°F)", "barometer temperature", "degF", ""},
		{"cpu_temp", "", "", ""},
		{"mag_x", "", "", "a field"},
		{"mag_x (uT)", "", "", ""},
		{"rssi", "", "", ""},
		{"packet", "", "", ""},
		{"who knows", "", "", ""},
		{"x", "", "", "an axis of what?"},
		{"tilt (deg)", "", "", ""},
		{"roll", "", "", "an angle, or a rate"},
		{"accelerometer x", "accelerometer x", "", "the mapping's own words"},
		{"barometer pressure [Pa]", "barometer pressure", "Pa", ""},
		{"board speed [m/s]", ownSpeed, "m/s", ""},
		{"temp\xb0C", "barometer temperature", "degC", "the degree sign of an old encoding"},
	} {
		u := understand(c.name, "")
		assert.Equal(t, c.is, u.is, "%s: %s", c.name, c.reason)
		assert.Equal(t, c.unit, u.unit, "%s: %s", c.name, c.reason)
		assert.Equal(t, c.is == "", u.why != "", "%s: what is left out has a reason", c.name)
	}
}

func TestClockNames(t *testing.T) {
	for _, c := range []struct {
		name, unit string
		ok         bool
		reason     string
	}{
		{"ms", "ms", true, "a unit alone"},
		{"us", "us", true, ""},
		{"millis", "ms", true, ""},
		{"micros", "us", true, ""},
		{"seconds", "s", true, ""},
		{"time", "", true, ""},
		{"t_us", "us", true, ""},
		{"Time (s)", "s", true, ""},
		{"time[ms]", "ms", true, ""},
		{"timestamp_ms", "ms", true, ""},
		{"timeMs", "ms", true, "camel case"},
		{"flight time (sec)", "s", true, ""},
		{"elapsed s", "s", true, ""},
		{"UTC", "", true, ""},
		{"time of day", "", true, ""},
		{"ticks", "ticks", true, ""},
		{"T+", "", true, "after liftoff"},
		{"unix_ms", "ms", true, "since 1970"},
		{"epoch (s)", "s", true, ""},
		{"datetime", "", true, ""},
		{"t (C)", "", false, "a temperature"},
		{"T_air", "", false, "a temperature"},
		{"t_air_c", "", false, "a temperature with its unit"},
		{"loop_us", "", false, "how long a loop took"},
		{"dt_ms", "", false, "a step"},
		{"delta time", "", false, ""},
		{"pressure", "", false, ""},
		{"velocity_ms", "", false, "metres a second"},
	} {
		unit, ok := clockLike(c.name, "")
		assert.Equal(t, c.ok, ok, "%s: %s", c.name, c.reason)
		if c.ok {
			assert.Equal(t, c.unit, unit, "%s: %s", c.name, c.reason)
		}
	}
}
