package mock

import (
	"math"
	"slices"

	"drystage/harness/contract"
)

// Setting is one of the board's own settings, in SI units. A value outside Min and Max is refused:
// ACCEPT then answers with the value kept.
type Setting struct {
	Name    string
	Unit    string // empty for plain numbers
	Default float64
	Min     float64
	Max     float64
	Meaning string
}

// Settings lists the board's settings in the order in which people look for them.
func Settings() []Setting { return slices.Clone(table[:]) }

const (
	stagingChannel = iota
	drogueChannel
	mainChannel
	pulse
	axialAxis
	siteTemperature
	liftoffAcceleration
	liftoffTime
	burnoutAcceleration
	stagingDelay
	stagingByCommand
	stagingMinHeight
	stagingMinSpeed
	stagingMaxTilt
	stagingLatest
	apogeeLockoutSpeed
	drogueDelay
	drogueBackup
	mainHeight
	mainLockout
	mainBackup
	settingCount
)

var table = [settingCount]Setting{
	stagingChannel:      {"staging_channel", "", 0, 0, contract.MaxChannels, "output that lights the upper motor; 0: none"},
	drogueChannel:       {"drogue_channel", "", 0, 0, contract.MaxChannels, "output of the drogue; 0: none"},
	mainChannel:         {"main_channel", "", 0, 0, contract.MaxChannels, "output of the main; 0: none"},
	pulse:               {"pulse", "s", 1, 0.001, 10, "how long an output stays on"},
	axialAxis:           {"axial_axis", "", 1, -3, 3, "axis of the inertial sensor that points to the nose: 1, 2, 3 for x, y, z; negative: it points to the tail"},
	siteTemperature:     {"site_temperature", "K", 0, 0, 330, "air temperature at the pad, to correct heights; 0: that of the standard atmosphere"},
	liftoffAcceleration: {"liftoff_acceleration", "m/s2", 25, 12, 200, "axial specific force above which the motor burns (at rest it is 9.8)"},
	liftoffTime:         {"liftoff_time", "s", 0.1, 0.02, 2, "how long it must stay above that"},
	burnoutAcceleration: {"burnout_acceleration", "m/s2", 3, -50, 20, "axial specific force below which the motor is out, once it has stayed there for 0.1 s"},
	stagingDelay:        {"staging_delay", "s", 1.5, 0, 60, "from burnout of the booster to the upper motor's output"},
	stagingByCommand:    {"staging_by_command", "", 0, 0, 1, "1: only the operator's command stages, under the same conditions"},
	stagingMinHeight:    {"staging_min_height", "m", 100, 0, 10000, "no staging below this height above the pad"},
	stagingMinSpeed:     {"staging_min_speed", "m/s", 40, 0, 1000, "no staging below this upward speed"},
	stagingMaxTilt:      {"staging_max_tilt", "rad", 0.349, 0, 3.141, "no staging once the tilt from vertical has been above this since liftoff"},
	stagingLatest:       {"staging_latest", "s", 6, 0, 120, "after liftoff; no staging later than this"},
	apogeeLockoutSpeed:  {"apogee_lockout_speed", "m/s", 40, 1, 1000, "no apogee and no backup timer while the upward speed is above this"},
	drogueDelay:         {"drogue_delay", "s", 0, 0, 60, "from apogee to the drogue's output"},
	drogueBackup:        {"drogue_backup", "s", 0, 0, 600, "after liftoff; apogee is taken for granted then; 0: no backup"},
	mainHeight:          {"main_height", "m", 150, 0, 10000, "height above the pad of the main's output; 0: as soon as it may"},
	mainLockout:         {"main_lockout", "s", 2, 0, 60, "from the drogue's output to the earliest main, so that the charge's pressure can't fire it"},
	mainBackup:          {"main_backup", "s", 0, 0, 600, "from the drogue (or apogee without one) to the main at any height; 0: no backup"},
}

// settings holds the values, by the constants above.
type settings [settingCount]float64

func defaults() (s settings) {
	for i := range table {
		s[i] = table[i].Default
	}
	return s
}

// accept takes a setting over if it is known and in range, and gives what it now is.
func (s *settings) accept(name [24]byte, value int32) (now int32, known bool) {
	for i := range table {
		row := &table[i]
		var n [24]byte
		copy(n[:], row.Name)
		if n != name {
			continue
		}
		v := float64(value) / 1000
		whole := row.Unit != "" || v == float64(int(v))
		if v >= row.Min && v <= row.Max && whole && (i != axialAxis || v != 0) {
			s[i] = v
		}
		return thousandths(s[i]), true
	}
	return value, false
}

// axis gives the direction of the nose in the inertial sensor's axes.
func (s *settings) axis() vector {
	a := s[axialAxis]
	sign := math.Copysign(1, a)
	switch math.Abs(a) {
	case 1:
		return vector{x: sign}
	case 2:
		return vector{y: sign}
	}
	return vector{z: sign}
}

// clash says that two jobs share an output.
func (s *settings) clash() bool {
	a, b, c := s[stagingChannel], s[drogueChannel], s[mainChannel]
	return a != 0 && (a == b || a == c) || b != 0 && b == c
}

// thousandths rounds to the nearest whole number of thousandths that the contract can carry.
func thousandths(v float64) int32 {
	v = min(max(float64(v*1000), -2e9), 2e9)
	if v < 0 {
		return int32(v - 0.5)
	}
	return int32(v + 0.5)
}
