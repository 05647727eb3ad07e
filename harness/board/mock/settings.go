package mock

import (
	"math"

	"drystage/harness/setting"
)

// Settings lists the board's settings. A value outside Min and Max is refused: ACCEPT then gives the value kept.
func Settings() []setting.Def { return setting.Builtin() }

// The indices of the settings.
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

var table = [settingCount]setting.Def(setting.Builtin())

// settings holds the values, by the constants above.
type settings [settingCount]float64

func defaults() (s settings) {
	for i := range table {
		s[i] = table[i].Default
	}
	return s
}

// accept sets a setting if it is known and the value is in range, and gives its value afterwards.
func (s *settings) accept(name [24]byte, value int32) (now int32, known bool) {
	for i := range table {
		row := &table[i]
		var n [24]byte
		copy(n[:], row.Name)
		if n != name {
			continue
		}
		v := float64(value) / 1000
		whole := row.Kind == setting.Quantity || v == float64(int(v))
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

// sharedChannel says that two functions share an output.
func (s *settings) sharedChannel() bool {
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
