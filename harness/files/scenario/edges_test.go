package scenario_test

import (
	"strings"
	"testing"
	"testing/fstest"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"drystage/harness/files/scenario"
)

// The ranges that files may use, written out: a change of one is a change of what users may write.
func TestEdgesOfRanges(t *testing.T) {
	for _, row := range []struct {
		file, key string // as the good file has it
		last      string // that is taken
		first     string // that is refused
		wanted    string
		reason    string
	}{
		{"vehicle.yaml", "mass: 480 g", "mass: 1 g", "mass: 0.999 g", "a mass from 0.001 kg to 1000 kg", "a stage weighs something"},
		{"vehicle.yaml", "mass: 480 g", "mass: 1000 kg", "mass: 1001 kg", "a mass from 0.001 kg to 1000 kg", "no stage of this trade weighs a ton"},
		{"vehicle.yaml", "count: 3, root", "count: 8, root", "count: 9, root", "a whole number from 3 to 8", "the method of normal force holds for three to eight fins"},
		{"vehicle.yaml", "cant: 1 deg", "cant: -15 deg", "cant: -15.1 deg", "an angle from -15 deg to 15 deg", "either way"},
		{"vehicle.yaml", "cd: 0.55", "cd: 0.01", "cd: 0.0099", "a number from 0.01 to 5", "nothing flies without drag"},
		{"vehicle.yaml", "mach: 0.9", "mach: 10", "mach: 10.1", "a number from 0 to 10", "the last Mach number of a table"},
		{"vehicle.yaml", "area: 0.5 m2", "area: 500 m2", "area: 501 m2", "an area from 0.0001 m2 to 500 m2", "the largest canopy"},
		{"vehicle.yaml", "inflation: 0.3 s", "inflation: 30 s", "inflation: 30.1 s", "a time from 0 s to 30 s", "the slowest canopy"},
		{"vehicle.yaml", "latitude: 47.1 deg", "latitude: -90 deg", "latitude: -90.1 deg", "an angle from -90 deg to 90 deg", "the south pole"},
		{"vehicle.yaml", "longitude: 8.5 deg", "longitude: 180 deg", "longitude: 180.1 deg", "an angle from -180 deg to 180 deg", "the date line"},
		{"vehicle.yaml", "elevation: 450 m", "elevation: -450 m", "elevation: -451 m", "a length from -450 m to 6000 m", "the lowest shore on land is higher"},
		{"vehicle.yaml", "tilt: 3 deg", "tilt: 60 deg", "tilt: 61 deg", "an angle from 0 deg to 60 deg", "a rail that lies lower is none"},
		{"full.yaml", "temperature: -5 degC", "temperature: -60 degC", "temperature: -60.1 degC", "a temperature from -60 degC to 60 degC", "the coldest day"},
		{"full.yaml", "temperature: -5 degC", "temperature: 140 degF", "temperature: 140.1 degF", "a temperature from -60 degC to 60 degC", "the hottest, in another unit"},
		{"full.yaml", "pressure: 950 hPa", "pressure: 400 hPa", "pressure: 399 hPa", "a pressure from 40000 Pa to 110000 Pa", "that of 7 km"},
		{"full.yaml", "speed: 4 m/s", "speed: 60 m/s", "speed: 60.1 m/s", "a speed from 0 m/s to 60 m/s", "the strongest wind"},
		{"full.yaml", "from: 270 deg", "from: 360 deg", "from: 361 deg", "an angle from -360 deg to 360 deg", "once around"},
		{"full.yaml", "peak: 6 m/s", "peak: -60 m/s", "peak: -61 m/s", "a speed from -60 m/s to 60 m/s", "a lull as well as a gust"},
		{"full.yaml", "within: 25 m", "within: 0 m", "within: -1 mm", "a length from 0 m to 100000 m", "an error has no sign"},
		{"full.yaml", "times: 3", "times: 2", "times: 1", "a whole number from 2 to 10000", "once is no repeat"},
		{"full.yaml", "by: 100 ppm", "by: 5 %", "by: 5.1 %", "a number from -0.05 to 0.05", "the worst oscillator, as a share"},
		{"full.yaml", "by: 0.1 %", "by: 100 %", "by: 101 %", "a number from 0 to 1", "all bytes"},
		{"full.yaml", "by: 20 deg/s", "by: 11459 deg/s", "by: 11460 deg/s", "an angular rate from -11459.155902616465 deg/s to 11459.155902616465 deg/s", "200 rad/s"},
		{"full.yaml", "by: 1 km", "by: 200 km", "by: 201 km", "a length from -450 m to 200000 m", "the highest limit of a receiver"},
		{"sustainer.yaml", "rate: 50 Hz", "rate: 0.1 Hz", "rate: 0.09 Hz", "a frequency from 0.1 Hz to 1000 Hz", "a sample in ten seconds"},
		{"sustainer.yaml", "range: 2000 deg/s", "range: 28647 deg/s", "range: 28648 deg/s", "an angular rate from", "500 rad/s"},
		{"sustainer.yaml", "voltage: 7.4 V", "voltage: 65 V", "voltage: 65.1 V", "a voltage from 0.5 V to 65 V", "the contract carries mV in 16 bits"},
		{"sustainer.yaml", "channel: 4, name", "channel: 16, name", "channel: 17, name", "a whole number from 1 to 16", "the contract has 16 outputs"},
		{"sustainer.yaml", "name: lamp", "name: lamp_of_16_chars", "name: lamp_of_17_lettrs", "OUTPUT", "the contract carries names in 16 bytes"},
		{"sustainer.yaml", "baud: 57600", "baud: 4000000", "baud: 4000001", "a whole number from 1200 to 4000000", "the fastest line"},
		{"sustainer.yaml", "answer: 50 ms", "answer: 100 us", "answer: 99 us", "a time from 0.0001 s to 60 s", "the quickest answer"},
		{"sustainer.yaml", "boot: 250 ms", "boot: 60 s", "boot: 61 s", "a time from 0 s to 60 s", "the slowest start"},
		{"rig.yaml", "tolerance: 5 %", "tolerance: 60 %", "tolerance: 91 %", "a number from 0 to 0.9", "of the load"},
		{"rig.yaml", "debounce: 2 ms", "debounce: 1 s", "debounce: 1.1 s", "a time from 0 s to 1 s", "the slowest pin"},
		{"rig.yaml", "uncertainty: 8 ms", "uncertainty: 1 us", "uncertainty: 0.9 us", "a time from 1e-06 s to 1 s", "no pin is known better"},
		{"alder.csv", "propellant: 62 g", "propellant: 500 kg", "propellant: 501 kg", "a mass from 0.0001 kg to 500 kg", "the largest motor"},
	} {
		lint := func(with string) string {
			tree := goodTree(t)
			text := string(tree[row.file].Data)
			require.Contains(t, text, row.key, row.reason)
			tree[row.file] = &fstest.MapFile{Data: []byte(strings.Replace(text, row.key, with, 1))}
			return all(scenario.Lint(tree, row.file))
		}
		assert.NotContains(t, lint(row.last), "wanted "+row.wanted, "%s: %s", row.last, row.reason)
		assert.Contains(t, lint(row.first), "wanted "+row.wanted, "%s: %s", row.first, row.reason)
	}
}

func TestRangeOfAKeyThatAFlagStandsInFor(t *testing.T) {
	for _, row := range []struct {
		block, key  string
		least, most float64
	}{{"wind", "speed", 0, 60}, {"weather", "pressure", 40000, 110000}, {"rail", "length", 0.1, 50}, {"rail", "colour", 0, 0}, {"stage", "mass", 0, 0}} {
		_, least, most := scenario.Range(row.block, row.key)
		assert.Equal(t, [2]float64{row.least, row.most}, [2]float64{least, most}, "%s, %s", row.block, row.key)
	}
}
