package sim

import (
	"fmt"
	"math"
)

// Warning says that a flight is outside of the range of its model, or that a figure is beyond what safety codes or
// practice allow. National codes and the range safety officer decide what may fly.
type Warning struct {
	Kind        WarningKind
	Stage       int  // the top stage of the body it is about
	From, Until Time // equal for an instant
	Worst       float64
	Limit       float64 // both in SI
}

// WarningKind is the kind of a Warning.
type WarningKind uint8

// The kinds of warning, with their limits and where those are from.
const (
	NoWarning WarningKind = iota
	// AngleOfAttack beyond 15 degrees (rad) for more than half a second at more than 100 Pa of dynamic
	// pressure, with a normal force of more than a tenth of the weight, in free flight without an open canopy: normal
	// forces are those of small angles. Common practice, no source.
	AngleOfAttack
	// MachBeyond is a Mach number beyond the range of the drag: Mach 0.8 for one Cd, the last row of a table, 5 for
	// all.
	MachBeyond
	// SlowExit is a speed off the rail below 14 m/s. Common practice, no source.
	SlowExit
	// RailTilt is a rail more than 20 degrees (rad) off vertical: California 19 CCR 1036 for high power;
	// codes for small models allow 30.
	RailTilt
	// ExitAngle is an angle of attack off the rail beyond that of a speed of four times the wind,
	// atan 1/4 (rad). Common practice, no source.
	ExitAngle
	// LowMargin is a static margin below 1 calibre from rail exit to apogee, at more than 100 Pa of
	// dynamic pressure. Common practice, no source.
	LowMargin
	// HardLanding is a speed at the ground above 10.67 m/s, 35 ft/s, as a club's safety code is quoted.
	HardLanding
	// ErrorBeyond is a step of the integrator whose error could not be held to the tolerance; in units of the
	// tolerance.
	ErrorBeyond
	// Unstable is a static margin below 0, otherwise as LowMargin.
	Unstable
	// CanopySpeed is a recovery device that opens at an airspeed beyond its Device.Rated; in the model canopies
	// never tear.
	CanopySpeed
	// AirBeyond is a height (m above the pad) beyond the air model: 84852 geopotential m above sea level, where the
	// standard atmosphere ends; with turbulence 80 000 ft above the pad, where that model ends.
	AirBeyond
	// LoadsSoftened is air loads that the model has reduced to the given share, below 1, because a rigid body would
	// oscillate or stop within a few milliseconds under them.
	LoadsSoftened
)

// warningRows describes the kinds.
var warningRows = [...]struct {
	word, text string
	scale      float64 // from SI
	format     string
	basis      string // of the limit
	outside    bool   // of the model
}{
	NoWarning:     {format: "%g"},
	AngleOfAttack: {"angle_of_attack", "the angle of attack is beyond the small angles of the model", inDegrees, "%.1f deg", practice, true},
	MachBeyond:    {"mach_beyond", "the Mach number is beyond what the drag is given for", 1, "Mach %.2f", "the model's", true},
	SlowExit:      {"slow_exit", "it leaves the rail slowly", 1, "%.1f m/s", practice, false},
	RailTilt:      {"rail_tilt", "the rail leans more than safety codes allow", inDegrees, "%.1f deg", "California 19 CCR 1036 for high power; codes for small models allow 30 deg", false},
	ExitAngle:     {"exit_angle", "it meets the air at a large angle when it leaves the rail", inDegrees, "%.1f deg", "the rail exit's speed four times the wind; " + practice, false},
	LowMargin:     {"low_margin", "the static margin is below one calibre", 1, "%.2f calibres", practice, false},
	HardLanding:   {"hard_landing", "it lands hard", 1, "%.2f m/s", "35 ft/s, as a club's safety code is quoted", false},
	ErrorBeyond:   {"error_beyond", "the integrator could not hold its tolerance", 1, "%.3g times the tolerance", "the model's", true},
	Unstable:      {"unstable", "it is unstable: its centre of pressure lies ahead of its centre of gravity", 1, "%.2f calibres", "the model's", true},
	CanopySpeed:   {"canopy_speed", "a recovery device opens at more than its rated speed, and the model's canopies never tear", 1, "%.1f m/s", "its own, or where the vehicle gives none: " + practice, true},
	AirBeyond:     {"air_beyond", "it flies beyond the air that the model knows", 1, "%.0f m", "the model's", true},
	LoadsSoftened: {"loads_softened", "the model has softened air loads that no rigid body would bear", 100, "%.3g %% of them", "the model's", true},
}

const (
	inDegrees = 180 / math.Pi
	practice  = "common practice, no source"
)

// WarningKinds lists all kinds.
func WarningKinds() []WarningKind {
	var list []WarningKind
	for k := 1; k < len(warningRows); k++ {
		list = append(list, WarningKind(k))
	}
	return list
}

// known is the kind, or NoWarning for an unknown number.
func (k WarningKind) known() WarningKind {
	if int(k) < len(warningRows) {
		return k
	}
	return NoWarning
}

// String gives the word for the kind; empty for an unknown number.
func (k WarningKind) String() string { return warningRows[k.known()].word }

// Text describes the kind in a few words.
func (k WarningKind) Text() string { return warningRows[k.known()].text }

// Basis gives the source of its limit.
func (k WarningKind) Basis() string { return warningRows[k.known()].basis }

// OutsideModel says that a flight with such a warning is outside of the range of its model, so that its results may
// be wrong from there on. The other kinds are about codes and practice.
func (k WarningKind) OutsideModel() bool { return warningRows[k.known()].outside }

// Values gives the worst value, and the limit with its source.
func (w *Warning) Values() string {
	r := &warningRows[w.Kind.known()]
	value := func(x float64) string { return fmt.Sprintf(r.format, x*r.scale) }
	return fmt.Sprintf("%s, limit %s (%s)", value(w.Worst), value(w.Limit), r.basis)
}

// When gives its time in s, counted from an instant.
func (w *Warning) When(zero Time) string {
	if w.Until > w.From {
		return fmt.Sprintf("from %.3f s to %.3f s", (w.From - zero).Seconds(), (w.Until - zero).Seconds())
	}
	return fmt.Sprintf("at %.3f s", (w.From - zero).Seconds())
}
