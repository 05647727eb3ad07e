// Package setting says what the settings of a board are: name, quantity, range, and whether one names an output. It
// holds the list of the built-in board. It never reads a file and never speaks to a board.
package setting

import (
	"slices"

	"drystage/sim/quantity"
)

// Kind is what the value of a setting means.
type Kind uint8

// The kinds of a setting's value. All travel as one number: a quantity in SI, true as 1, false as 0.
const (
	Quantity Kind = iota // a quantity, or a plain number
	Count                // a whole number
	Flag                 // true or false
	Output               // the number of an output channel; 0: none
)

// MaxChannels is the greatest number of an output channel, as the contract has it; a test there holds the two equal.
const MaxChannels = 16

// MaxValue is how far from zero a value in SI may be: the contract carries thousandths in 32 bits.
const MaxValue = 2147483

// Def describes one setting. Default, Min and Max are in SI; a board refuses what lies outside.
type Def struct {
	Name    string
	Kind    Kind
	Dim     quantity.Dimension // of a Quantity
	Default float64
	Min     float64
	Max     float64
	Meaning string
}

// Builtin lists the settings of the built-in board in the order in which people look for them.
func Builtin() []Def { return slices.Clone(builtin) }

var builtin = []Def{
	{Name: "staging_channel", Kind: Output, Max: MaxChannels, Meaning: "output that lights the upper motor; 0: none"},
	{Name: "drogue_channel", Kind: Output, Max: MaxChannels, Meaning: "output of the drogue; 0: none"},
	{Name: "main_channel", Kind: Output, Max: MaxChannels, Meaning: "output of the main; 0: none"},
	{Name: "pulse", Kind: Quantity, Dim: quantity.Time, Default: 1, Min: 0.001, Max: 10, Meaning: "how long an output stays on"},
	{Name: "axial_axis", Kind: Count, Default: 1, Min: -3, Max: 3, Meaning: "axis of the inertial sensor that points to the nose: 1, 2, 3 for x, y, z; negative: it points to the tail"},
	{Name: "site_temperature", Kind: Quantity, Dim: quantity.Temperature, Default: 0, Min: 0, Max: 330, Meaning: "air temperature at the pad, to correct heights; 0: that of the standard atmosphere"},
	{Name: "liftoff_acceleration", Kind: Quantity, Dim: quantity.Acceleration, Default: 25, Min: 12, Max: 200, Meaning: "axial specific force above which the motor burns (at rest it is 9.8)"},
	{Name: "liftoff_time", Kind: Quantity, Dim: quantity.Time, Default: 0.1, Min: 0.02, Max: 2, Meaning: "how long it must stay above that"},
	{Name: "burnout_acceleration", Kind: Quantity, Dim: quantity.Acceleration, Default: 3, Min: -50, Max: 20, Meaning: "axial specific force below which the motor is out, once it has stayed there for 0.1 s"},
	{Name: "staging_delay", Kind: Quantity, Dim: quantity.Time, Default: 1.5, Min: 0, Max: 60, Meaning: "from burnout of the booster to the upper motor's output"},
	{Name: "staging_by_command", Kind: Flag, Max: 1, Meaning: "only the operator's command stages, under the same conditions"},
	{Name: "staging_min_height", Kind: Quantity, Dim: quantity.Length, Default: 100, Min: 0, Max: 10000, Meaning: "no staging below this height above the pad"},
	{Name: "staging_min_speed", Kind: Quantity, Dim: quantity.Speed, Default: 40, Min: 0, Max: 1000, Meaning: "no staging below this upward speed"},
	{Name: "staging_max_tilt", Kind: Quantity, Dim: quantity.Angle, Default: 0.349, Min: 0, Max: 3.141, Meaning: "no staging once the tilt from vertical has been above this since liftoff"},
	{Name: "staging_latest", Kind: Quantity, Dim: quantity.Time, Default: 6, Min: 0, Max: 120, Meaning: "after liftoff; no staging later than this"},
	{Name: "apogee_lockout_speed", Kind: Quantity, Dim: quantity.Speed, Default: 40, Min: 1, Max: 1000, Meaning: "no apogee and no backup timer while the upward speed is above this"},
	{Name: "drogue_delay", Kind: Quantity, Dim: quantity.Time, Default: 0, Min: 0, Max: 60, Meaning: "from apogee to the drogue's output"},
	{Name: "drogue_backup", Kind: Quantity, Dim: quantity.Time, Default: 0, Min: 0, Max: 600, Meaning: "after liftoff; apogee is taken for granted then; 0: no backup"},
	{Name: "main_height", Kind: Quantity, Dim: quantity.Length, Default: 150, Min: 0, Max: 10000, Meaning: "height above the pad of the main's output; 0: as soon as it may"},
	{Name: "main_lockout", Kind: Quantity, Dim: quantity.Time, Default: 2, Min: 0, Max: 60, Meaning: "from the drogue's output to the earliest main, so that the charge's pressure can't fire it; without a drogue the main may come at once"},
	{Name: "main_backup", Kind: Quantity, Dim: quantity.Time, Default: 0, Min: 0, Max: 600, Meaning: "from the drogue (or apogee without one) to the main at any height; 0: no backup"},
}
