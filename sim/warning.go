package sim

// Warning is something about a flight that whoever plans it should know: the flight has left what its
// model is good for, or a figure is beyond what safety codes or practice allow. It decides nothing:
// national codes and the range safety officer do.
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
	// AngleOfAttack beyond 15 degrees (rad) for more than half a second, in free flight before the
	// body's apogee: normal forces are those of small angles. Common practice, no source.
	AngleOfAttack
	// MachBeyond what the drag is good for: Mach 0.8 for one Cd, the last row of a table, 5 for all.
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
	// HardLanding is a speed at the ground above 10.67 m/s, 35 ft/s: a limit that a club's safety code is
	// quoted with.
	HardLanding
	// ErrorBeyond is a step of the integrator whose error could not be held to the tolerance (times
	// it).
	ErrorBeyond
)

var warningNames = [...]string{"", "angle_of_attack", "mach_beyond", "slow_exit", "rail_tilt", "exit_angle", "low_margin", "hard_landing", "error_beyond"}

// String gives the word for the kind.
func (k WarningKind) String() string { return warningNames[k] }

var warningTexts = [...]string{
	"", "the angle of attack is beyond the small angles of the model", "the Mach number is beyond what the drag is given for",
	"it leaves the rail slowly", "the rail leans more than safety codes allow", "it meets the air at a large angle when it leaves the rail",
	"the static margin is below one calibre", "it lands hard", "the integrator could not hold its tolerance",
}

// Text says it in a few words.
func (k WarningKind) Text() string { return warningTexts[k] }
