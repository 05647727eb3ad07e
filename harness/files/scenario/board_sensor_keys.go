package scenario

import (
	"drystage/sim"
	"drystage/sim/quantity"
)

func hertz(max float64) quantityShape      { return quantityShape{quantity.Frequency, 0.1, max} }
func pascals(max float64) quantityShape    { return quantityShape{quantity.Pressure, 0, max} }
func volts(min, max float64) quantityShape { return quantityShape{quantity.Voltage, min, max} }
func ohms(min, max float64) quantityShape  { return quantityShape{quantity.Resistance, min, max} }

// Where typical figures come from. Data sheets are those of small hobby parts, from memory.
const (
	dataSheet      = ", data sheets of hobby parts"
	commonPractice = ", common practice, no source"
)

var sensorsTable = blockOf("sensors", "The sensors; a part that isn't named isn't fitted, and an error that isn't named isn't there, but for those of every rocket, which have defaults: vibration, static ports, vents, the charge's leak.", func(s *sim.Sensors) []row {
	return []row{
		{key: "accelerometer", is: accelerometer.table(true), doc: "three axes, specific force", to: &s.Accel},
		{key: "high_accelerometer", is: accelerometer.table(false), doc: "a second one with a wider range, sampled together with the first: an axis from 95 % of the first one's range on takes the value of this one, as boards with two ranges do", to: &s.High},
		{key: "gyro", is: gyroscope.table(true), doc: "three axes, angular rate", to: &s.Gyro},
		{key: "barometer", is: barometerTable, doc: "static pressure", to: &s.Baro},
		{key: "gnss", is: gnssTable, doc: "position and velocity", to: &s.GNSS},
		{key: "battery", is: batteryTable, doc: "the board's own supply", to: &s.Battery},
		{key: "magnetometer", is: magnetometerTable, doc: "three axes, magnetic field; a firmware takes it that says so in its capabilities (MAG)", to: &s.Mag},
		{key: "heating", is: heatingTable, doc: "how the board warms up after power-on, which `thermal` goes by; default the temperature of the air around the rocket", to: &s.Heating},
	}
})

// axes describes a kind of three-axis part.
type axes struct {
	name                             string
	unit, density, perKelvin         quantity.Dimension
	most                             float64
	ranges, noise, white, bias       string // typical figures
	drift, scale, thermal, transmits string
	rectifies                        string
	transmissibility                 shape
	usualTransmissibility            string
	rectification                    quantity.Dimension
}

var accelerometer = axes{
	name: "an accelerometer", unit: quantity.Acceleration, density: quantity.AccelerationDensity, perKelvin: quantity.AccelerationPerKelvin, most: 20000,
	ranges: "16 g0, of high-range parts 100 to 400 g0" + dataSheet, noise: "0.03 to 0.1 m/s2" + dataSheet,
	white: "70 to 300 ug0/rtHz, of high-range parts 3 to 10 mg0/rtHz" + dataSheet, bias: "20 to 60 mg0" + dataSheet,
	drift: "sigma 20 to 100 ug0, time 100 s" + dataSheet, scale: "0.5 to 3 %" + dataSheet, thermal: "0.1 to 1 mg0/K" + dataSheet,
	transmits: "0.2 to 0.5 on soft foam, 1 on a stiff sled, 2 to 5 on a board that resonates" + commonPractice,
	rectifies: "0.05 to 1 mg0/g0^2" + dataSheet, rectification: quantity.AccelerationRectification,
	transmissibility: number{min: 0, max: 20}, usualTransmissibility: "1",
}

var gyroscope = axes{
	name: "a gyro", unit: quantity.AngularRate, density: quantity.RateDensity, perKelvin: quantity.RatePerKelvin, most: 500,
	ranges: "2000 deg/s" + dataSheet, noise: "0.05 to 0.2 deg/s" + dataSheet,
	white: "0.004 to 0.015 deg/s/rtHz" + dataSheet, bias: "2 to 10 deg/s at power-on, less once calibrated" + dataSheet,
	drift: "sigma 0.002 to 0.01 deg/s, time 100 s" + dataSheet, scale: "0.5 to 3 %" + dataSheet, thermal: "0.005 to 0.05 deg/s/K" + dataSheet,
	transmits: "0.3 to 2 deg/s/g0" + commonPractice,
	rectifies: "0.0001 to 0.01 deg/s/g0^2" + dataSheet, rectification: quantity.RateRectification,
	transmissibility: quantityShape{quantity.RatePerAcceleration, 0, 0.1}, usualTransmissibility: "1 deg/s/g0",
}

// table gives the keys of the part; first is false of the second accelerometer, which has no rate of its own.
func (a axes) table(first bool) *table {
	positive := quantityShape{a.unit, 0, a.most}
	return blockOf(a.name, "A three-axis part.", func(t *sim.Triad) []row {
		rows := []row{
			{key: "rate", is: hertz(4000), need: true, doc: "samples a second", typical: "100 to 1000 Hz" + dataSheet, to: &t.Rate},
			{key: "range", is: quantityShape{a.unit, 1e-3, a.most}, need: true, doc: "clips at plus and minus this", typical: a.ranges, to: &t.Range},
			{key: "resolution", is: positive, doc: "step of the output; default none", typical: "the range over 32768" + dataSheet, to: &t.Resolution},
			{key: "noise", is: positive, doc: "one standard deviation of each sample; default none", typical: a.noise, to: &t.Noise},
			{key: "bias", is: vector{a.unit, a.most}, doc: "added to each axis x, y, z of the part, at 25 degC; default none", typical: a.bias, to: &t.Bias},
			{key: "mounting", is: mounting{}, def: "x up y left", doc: "where the part's axes point, seen by someone facing the rocket on its pad, or the rows of a rotation matrix: the part's axes x, y, z in body axes (up, left, back)", to: &t.Mounting},
			{key: "clock_error", is: number{min: -0.05, max: 0.05}, doc: "share by which its samples come too fast; default none", typical: "1 to 5 % of a part's own oscillator" + dataSheet + "; 20 ppm of a crystal" + commonPractice, to: &t.ClockError},
			{key: "bandwidth", is: hertz(4000), doc: "at which the first-order anti-alias filter halves the power; it stands behind the sensing element, which clips at `range`; default no filter", typical: "a quarter to a half of the rate" + dataSheet, to: &t.Bandwidth},
			{key: "noise_density", is: quantityShape{a.density, 0, a.most}, doc: "white noise before the filter, one-sided: over a band B it has the standard deviation density times the root of B. Behind a filter of bandwidth B that is 1.571 B at any rate, since what is faster than half the rate folds in; without a filter, half the rate. Instead of `noise`; default none", typical: a.white, to: &t.Density},
			{key: "drift", is: wanderTable(a.unit, a.most), doc: "of the bias in run, each axis by itself; default none", typical: a.drift, to: &t.Drift},
			{key: "scale", is: vector{quantity.Number, 0.5}, doc: "share by which each axis x, y, z reads too much; default none", typical: a.scale, to: &t.Scale},
			{key: "cross_axis", is: number{min: -0.2, max: 0.2}, doc: "share of each other axis that an axis feels; default none", typical: "1 to 2 %" + dataSheet, to: &t.CrossAxis},
			{key: "thermal", is: vector{a.perKelvin, a.most}, doc: "change of each axis's bias with the board's temperature, from 25 degC; default none", typical: a.thermal, to: &t.Thermal},
			{key: "position", is: vector{quantity.Length, 2}, doc: "up, left, back from the place on the rocket's axis at the board's `station`: turning about the centre of gravity is felt there; default on the axis", typical: "10 to 20 mm off the axis" + commonPractice, to: &t.Position},
			{key: "transmissibility", is: a.transmissibility, def: a.usualTransmissibility, doc: "how much of the airframe's vibration, which the vehicle's file gives, the part feels for each m/s2", typical: a.transmits, to: &t.Transmissibility},
			{key: "rectification", is: quantityShape{a.rectification, -1, 1}, doc: "what vibration adds to the bias of each axis, for each square of its root mean square; default none", typical: a.rectifies, to: &t.Rectification},
		}
		if a.unit == quantity.AngularRate {
			rows = append(rows, row{key: "g_sensitivity", is: quantityShape{quantity.RatePerAcceleration, -0.1, 0.1}, doc: "rate felt for each unit of specific force along the same axis; default none", typical: "0.1 deg/s/g0" + dataSheet, to: &t.GSensitivity})
		}
		if !first {
			rows = rows[1:]
		}
		return rows
	}).withFormer("vibration", "the vehicle's file gives the `vibration` of its motors, and `transmissibility` here how much of it the part feels")
}

var magnetometerTable = blockOf("a magnetometer", "A three-axis magnetometer, and the iron and currents around it. The site's file gives the earth's field.", func(m *sim.Magnetometer) []row {
	const most = 0.1 // T
	field := quantityShape{quantity.FluxDensity, 0, most}
	return []row{
		{key: "rate", is: hertz(1000), need: true, doc: "samples a second", typical: "10 to 200 Hz" + dataSheet, to: &m.Rate},
		{key: "range", is: quantityShape{quantity.FluxDensity, 1e-6, most}, need: true, doc: "clips at plus and minus this", typical: "400 to 5000 uT" + dataSheet, to: &m.Range},
		{key: "resolution", is: field, doc: "step of the output; default none", typical: "0.01 to 0.3 uT" + dataSheet, to: &m.Resolution},
		{key: "noise", is: field, doc: "one standard deviation of each sample; default none", typical: "0.05 to 0.5 uT" + dataSheet, to: &m.Noise},
		{key: "hard_iron", is: vector{quantity.FluxDensity, most}, doc: "added to each axis x, y, z of the part: magnets and steel that turn with the rocket; default none", typical: "5 to 50 uT, 100 uT and more beside a buzzer or a steel bolt" + commonPractice, to: &m.Bias},
		{key: "soft_iron", is: matrix{2}, doc: "three rows of the matrix, in the part's axes, by which iron near the part distorts the field; default none", typical: "1 along the diagonal within 0.1, 0.05 beside it" + commonPractice, to: &m.SoftIron},
		{key: "current", is: vector{quantity.FluxDensityPerCurrent, 1e-3}, doc: "field along each axis x, y, z of the part for each ampere that outputs draw through their `load`; default none", typical: "2 uT/A from a lead 10 cm away, 20 uT/A from one 1 cm away (a long straight wire)", to: &m.Current},
		{key: "mounting", is: mounting{}, def: "x up y left", doc: "where the part's axes point, as of an accelerometer", to: &m.Mounting},
		{key: "clock_error", is: number{min: -0.05, max: 0.05}, doc: "share by which its samples come too fast; default none", typical: "1 to 5 %" + dataSheet, to: &m.ClockError},
		{key: "bandwidth", is: hertz(4000), doc: "at which a first-order filter halves the power; default no filter", typical: "a quarter to a half of the rate" + dataSheet, to: &m.Bandwidth},
		{key: "drift", is: wanderTable(quantity.FluxDensity, most), doc: "of the bias in run, each axis by itself; default none", typical: "sigma 0.1 to 1 uT, time 100 s" + commonPractice, to: &m.Drift},
		{key: "scale", is: vector{quantity.Number, 0.5}, doc: "share by which each axis x, y, z reads too much; default none", typical: "1 to 5 %" + dataSheet, to: &m.Scale},
		{key: "cross_axis", is: number{min: -0.2, max: 0.2}, doc: "share of each other axis that an axis feels; default none", typical: "0.2 to 2 %" + dataSheet, to: &m.CrossAxis},
	}
})

func wanderTable(d quantity.Dimension, most float64) *table {
	return blockOf("a drift", "A first-order Gauss-Markov process.", func(w *sim.GaussMarkov) []row {
		return []row{
			{key: "sigma", is: quantityShape{d, 0, most}, need: true, doc: "its standard deviation", to: &w.Sigma},
			{key: "time", is: seconds(0.01, 36000), need: true, doc: "its correlation time: values this far apart have a correlation of 1/e", to: &w.Time},
		}
	})
}

var heatingTable = blockOf("a heating", "The board begins at the pad's temperature and ends warmer.", func(h *sim.Heating) []row {
	return []row{
		{key: "rise", is: quantityShape{quantity.Temperature, 0, 80}, need: true, doc: "a difference, in K", typical: "5 to 20 K" + commonPractice, to: &h.Rise},
		{key: "time", is: seconds(0.1, 36000), need: true, doc: "after which 63 % of the rise are there", typical: "60 to 300 s" + commonPractice, to: &h.Time},
	}
})

var barometerTable = blockOf("a barometer", "A barometer in a bay that breathes through holes.", func(b *sim.Barometer) []row {
	return []row{
		{key: "rate", is: hertz(1000), need: true, doc: "samples a second", typical: "20 to 100 Hz" + dataSheet, to: &b.Rate},
		{key: "min", is: pascals(200000), need: true, doc: "clips below", typical: "10 to 300 hPa" + dataSheet, to: &b.Min},
		{key: "max", is: pascals(200000), need: true, doc: "clips above", typical: "1100 to 1200 hPa" + dataSheet, to: &b.Max},
		{key: "resolution", is: pascals(5000), doc: "step of the output; default none", typical: "0.2 to 2 Pa" + dataSheet, to: &b.Resolution},
		{key: "noise", is: pascals(5000), doc: "one standard deviation; default none", typical: "1 to 3 Pa at 20 to 100 Hz" + dataSheet, to: &b.Noise},
		{key: "bias", is: quantityShape{quantity.Pressure, -20000, 20000}, doc: "added, at 25 degC; default none", typical: "100 to 150 Pa" + dataSheet, to: &b.Bias},
		{key: "clock_error", is: number{min: -0.05, max: 0.05}, doc: "share by which its samples come too fast; default none", typical: "20 ppm of a crystal" + commonPractice, to: &b.ClockError},
		{key: "lag", is: seconds(0, 60), doc: "first-order, of the bay's pressure behind that of the air; default none", typical: "5 to 100 ms" + commonPractice, to: &b.Lag},
		{key: "vents", is: ventTable, doc: "instead of `lag`: the holes, which are the static ports, and through which the bay breathes (orifice equation); default " + usualVents, to: &b.Vents},
		{key: "ports", is: listShape{portTable, 1, 50}, doc: "error of the static ports by the flow along the body, against Mach, as pressure coefficient; rising Mach, straight lines between; default 0 to Mach 0.8, 0.05 at Mach 1, -0.03 at Mach 1.1, 0 from Mach 1.4 on", typical: "0 below Mach 0.8, 0.03 to 0.1 near Mach 1, a jump back above it (NACA Report 1364 tells of the jump; the size is common practice, no source)", to: listOf(&b.Ports)},
		{key: "crossflow", is: number{min: -1.2, max: 0}, def: "-0.4", doc: "error of the static ports by the flow across the body, on the pad, at an angle of attack or tumbling: the mean pressure coefficient around the body. With one or two `vents` the pressure depends on how they face the flow, too", typical: "-0.3 to -0.6" + commonPractice + "; -1 in a flow without friction", to: &b.Crossflow},
		{key: "thermal", is: quantityShape{quantity.PressurePerKelvin, -1000, 1000}, doc: "change of the bias with the board's temperature, from 25 degC; default none", typical: "0.5 to 1.5 Pa/K" + dataSheet, to: &b.Thermal},
		{key: "drift", is: wanderTable(quantity.Pressure, 5000), doc: "of the bias in run; default none", typical: "sigma 2 to 10 Pa, time 60 s" + commonPractice, to: &b.Drift},
		{key: "ejection", is: ejectionTable, def: "{}", doc: "a charge of the board's own stage, whose gas gets into the bay through a leak", to: &b.Ejection},
	}
})

var ventTable = blockOf("a bay's vents", "The holes through which the bay breathes.", func(v *sim.Vents) []row {
	return []row{
		{key: "count", is: number{1, 64, true}, need: true, doc: "how many holes", typical: "3 or 4" + commonPractice, to: &v.Count},
		{key: "diameter", is: length(1e-4, 0.05), need: true, doc: "of each", typical: "1 to 4 mm" + commonPractice, to: &v.Diameter},
		{key: "volume", is: quantityShape{quantity.Volume, 1e-6, 1}, need: true, doc: "of air behind them", typical: "0.1 to 2 l", to: &v.Volume},
		{key: "clock", is: degrees(-360, 360), def: "0 deg", doc: "of one or two holes: where the first is, from the body's y axis towards its z axis", to: &v.Clock},
	}
})

var portTable = blockOf("a row of static ports", "The pressure at the ports is that of the air plus cp times the dynamic pressure.", func(p *sim.Port) []row {
	return []row{
		{key: "mach", is: number{min: 0, max: 10}, need: true, doc: "Mach number", to: &p.Mach},
		{key: "cp", is: number{min: -2, max: 2}, need: true, doc: "pressure coefficient", to: &p.Cp},
	}
})

var ejectionTable = blockOf("an ejection", "The pressure of a charge in the recovery bay rises at once and dies away, and leaks into the board's bay.", func(e *sim.Ejection) []row {
	return []row{
		{key: "peak", is: quantityShape{quantity.Pressure, 0, 1e6}, def: "70 kPa", doc: "in the recovery bay, above the pressure outside", typical: "50 to 150 kPa" + commonPractice, to: &e.Peak},
		{key: "time", is: seconds(1e-3, 60), def: "50 ms", doc: "after which 1/e of it is left", typical: "20 to 200 ms" + commonPractice, to: &e.Time},
		{key: "leak", is: length(0, 0.05), def: "0.5 mm", doc: "diameter of a hole with the area of all gaps between the two bays", typical: "0.3 to 2 mm, as around wires" + commonPractice, to: &e.Leak},
	}
})

var heightWord = words{"sea_level", "ellipsoid"}

var gnssTable = blockOf("a GNSS receiver", "A GNSS receiver. Without a fix it repeats its last one and says that it has none.", func(r *sim.Receiver) []row {
	return []row{
		{key: "rate", is: hertz(100), need: true, doc: "fixes a second", typical: "1 to 25 Hz" + dataSheet, to: &r.Rate},
		{key: "position_noise", is: length(0, 1000), doc: "one standard deviation, each horizontal axis; default none", typical: "0.5 m beside the drift" + commonPractice, to: &r.PositionNoise},
		{key: "height_noise", is: length(0, 1000), doc: "one standard deviation; default none", typical: "1 m beside the drift" + commonPractice, to: &r.HeightNoise},
		{key: "velocity_noise", is: quantityShape{quantity.Speed, 0, 100}, doc: "one standard deviation, each axis; default none", typical: "0.05 to 0.1 m/s" + dataSheet, to: &r.VelocityNoise},
		{key: "latency", is: seconds(0, 5), doc: "age of what a fix says; default none", typical: "50 to 500 ms" + dataSheet, to: &r.Latency},
		{key: "position_drift", is: wanderTable(quantity.Length, 1000), doc: "of each horizontal axis; default none", typical: "sigma 1.5 to 3 m, time 60 s" + commonPractice, to: &r.PositionDrift},
		{key: "height_drift", is: wanderTable(quantity.Length, 1000), doc: "of the height; default none", typical: "sigma 3 to 6 m, time 60 s" + commonPractice, to: &r.HeightDrift},
		{key: "cold_start", is: seconds(0, 3600), doc: "from the start of the run to the first fix; default at once", typical: "24 to 30 s" + dataSheet, to: &r.ColdStart},
		{key: "warm_start", is: seconds(0, 3600), doc: "after what lost the fix has gone, until it is back; default at once", typical: "1 to 3 s" + dataSheet, to: &r.WarmStart},
		{key: "reacquire", is: seconds(0, 600), doc: "mean of a random time, with an exponential distribution, on top of `warm_start`; default none", typical: "1 to 20 s after a boost" + commonPractice, to: &r.Reacquire},
		{key: "hold", is: seconds(0, 600), def: "1 s", doc: "how long a new fix has two dimensions and holds the height that it had, with no speed upwards", typical: "1 to 10 s" + commonPractice, to: &r.Hold},
		{key: "coast", is: seconds(0, 60), doc: "when the fix is lost, how long it goes on at the last velocity and says that this is a fix; default not", typical: "0 to 5 s" + commonPractice, to: &r.Coast},
		{key: "filter", is: seconds(0, 10), doc: "time constant of its filter, which expects a constant velocity: in a boost it lags behind, and after burnout it overshoots; default none", typical: "0.1 to 1 s" + commonPractice, to: &r.Filter},
		{key: "heights", is: heightWord, def: "sea_level", doc: "above what its heights are; the site's `geoid` is the difference", to: func(v value) { r.Ellipsoid = v.text() == "ellipsoid" }},
		{key: "most_force", is: quantityShape{quantity.Acceleration, 10, 20000}, doc: "specific force above which the fix is lost; default never", typical: "4 g0" + dataSheet, to: &r.MostForce},
		{key: "most_speed", is: quantityShape{quantity.Speed, 10, 20000}, doc: "speed above which the fix is lost; default never", typical: "500 m/s, 515 m/s (1000 kn) or 600 m/s" + dataSheet, to: &r.MostSpeed},
		{key: "most_height", is: length(100, 200000), doc: "height above mean sea level above which the fix is lost; default never", typical: "12, 18, 50 or 80 km" + dataSheet, to: &r.MostHeight},
	}
})

var batteryTable = blockOf("a battery", "The battery that feeds the board, and the board's measurement of it.", func(b *sim.Battery) []row {
	return []row{
		{key: "rate", is: hertz(200), need: true, doc: "measurements a second", to: &b.Rate},
		{key: "voltage", is: volts(0.5, 65), need: true, doc: "fresh and without load", typical: "7.4 V of two lithium cells, 9 V", to: &b.Voltage},
		{key: "sag", is: volts(0, 65), doc: "lost over an hour on the bench; default none", to: &b.Sag},
		{key: "noise", is: volts(0, 10), doc: "one standard deviation; default none", to: &b.Noise},
		{key: "resolution", is: volts(0, 10), doc: "step of the measurement; default none", to: &b.Resolution},
		{key: "resistance", is: ohms(0, 1000), doc: "of the battery with leads and switch: outputs that are on pull its voltage down through their `load`; default none", typical: "0.1 to 0.2 ohm of a lithium pack, 1 to 2 ohm of a 9 V block" + commonPractice, to: &b.Resistance},
		{key: "brown_out", is: volts(0, 65), doc: "below which the board resets; default never", typical: "2.7 to 5 V" + dataSheet, to: &b.BrownOut},
		{key: "hold_up", is: seconds(0, 10), doc: "for which the board's capacitors carry it below `brown_out`; default none", typical: "1 to 50 ms" + commonPractice, to: &b.HoldUp},
	}
})
