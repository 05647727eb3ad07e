package scenario_test

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"drystage/harness/files/scenario"
	"drystage/sim"
)

func TestExplain(t *testing.T) {
	for _, c := range []struct {
		word   string
		want   []string
		reason string
	}{
		{"brown_out", []string{"brown_out\n", "by: a voltage from 0.01 V to 65 V (V, mV), required", "typical: 1 to 4 V"}, "a fault of the supply"},
		{"drift", []string{"barometer: up to 200000 Pa/s", "gnss: up to 100000 m/s"}, "a rate for each part"},
		{"clipped", []string{"accelerometer: up to 100000 m/s2"}, "and only the parts it can spoil"},
		{"vent_blocked", []string{"default 0 s", "the board's part: barometer"}, "a default"},
		{"accelerometer", []string{"noise_density: a noise density of acceleration from 0 m/s2/rtHz", "70 to 300 ug0/rtHz"}, "a part"},
		{"barometer.vents", []string{"diameter: a length from 0.0001 m to 0.05 m (m, mm, cm, km, ft, in), required"}, "a block inside it"},
		{"site", []string{"elevation: a length from -450 m to 6000 m", "pressure: a pressure from 40000 Pa to 110000 Pa"}, "the launch site"},
		{"wind", []string{"roughness: a length from 0.00001 m to 2 m", "0.03 m grass", "aloft: a list of 1 to 100, each a block of height, speed, from"}, "the day's wind"},
		{"wind.aloft", []string{"height: a length from 0 m to 50000 m (m, mm, cm, km, ft, in), required"}, "a row of its table"},
		{"wind.turbulence", []string{"w20: a speed from 0.1 m/s to 60 m/s", "15 kn light, 30 kn moderate", "aloft: a speed"}, "its random part"},
		{"weather", []string{"\nwind.gusts\n", "\nwind.aloft\n", "wind: a block of speed, from"}, "all of the day"},
		{"anchors", []string{"output BOARD.OUTPUT", "command arm"}, "what to tie a fault to"},
		{"nmea", []string{"baud: a whole number from 1200 to 4000000, default 115200"}, "a whole number is written out"},
		{"vary", []string{"what can vary, by its name:", "\n  STAGE.drag\n    a number from 0.5 to 1.5; factor on its drag", "\n  FAULT.by\n    its size, in its own unit and range\n"}, "and all that can vary"},
		{"warnings", []string{"accepts: [canopy_speed]", "    canopy_speed: ", "(limit: "}, "what a flight is warned of"},
	} {
		got, err := scenario.Explain(c.word)
		require.NoError(t, err)
		for _, w := range c.want {
			assert.Contains(t, got, w, c.reason)
		}
	}
	clipped, _ := scenario.Explain("clipped")
	assert.NotContains(t, clipped, "gnss: up to")
	_, err := scenario.Explain("spkie")
	assert.EqualError(t, err, `scenario: found "spkie", wanted a kind of fault, a part of a board, a block of the weather, vary or warnings; did you mean "spike"?`)
}

// Every kind of fault and every key of a part is explained, and every word of the lists is known.
func TestExplainLeavesNothingOut(t *testing.T) {
	faults, err := scenario.Explain("faults")
	require.NoError(t, err)
	for _, k := range sim.FaultKinds() {
		assert.Contains(t, "\n"+faults, "\n"+k+"\n  ", k)
	}
	parts, err := scenario.Explain("parts")
	require.NoError(t, err)
	for _, p := range sim.PartNames() {
		assert.Contains(t, "\n"+parts, "\n"+p+"\n  ", p)
	}
	assert.NotContains(t, parts, "wind", "the day is no part of a board")
	for _, w := range scenario.Topics() {
		text, err := scenario.Explain(w)
		require.NoError(t, err)
		assert.NotContains(t, text, "a value,", "%s: teach wants its shapes", w)
		for line := range strings.Lines(text) {
			assert.NotContains(t, line, "%!", "%s", line)
		}
	}
}
