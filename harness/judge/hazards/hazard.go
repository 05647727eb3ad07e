// Package hazards says which accidents of high-power rocketry a flight shows, and keeps a matrix of them: which scenarios
// try which, and which wrong boards prove that they do. It takes records and verdicts, and neither flies nor prints.
package hazards

// Hazard is a kind of accident.
type Hazard uint8

// The hazards, from common safety practice, no source; the worst come first.
const (
	OnPad Hazard = iota
	Disarmed
	AfterLanding
	Again
	OffVertical
	WhileBurning
	SlowOrLow
	MotorRefused
	NothingOpens
	DrogueOnly
	DrogueAtSpeed
	MainAtSpeed
	MainTooHigh
	StaysOn
	TooShort
	MotorCold
	Late
	WrongData
	hazardCount
)

// rows has word, what happens, and what comes of it.
var rows = [hazardCount][3]string{
	OnPad:         {"fires-on-the-pad", "An output fires before liftoff", "people stand beside the rocket"},
	Disarmed:      {"fires-disarmed", "An output fires though nobody has armed the board, or it was made safe", "people were told that it is safe"},
	AfterLanding:  {"fires-after-landing", "An output fires on the ground after the flight", "whoever fetches the rocket holds it"},
	Again:         {"fires-again", "An output fires a second time, as after each brown-out", "it lights what failed to light, when nobody expects it any more"},
	OffVertical:   {"lights-off-vertical", "The upper motor is lit while the rocket is more than 20 degrees off vertical", "it flies under power at people and houses"},
	WhileBurning:  {"lights-while-burning", "The upper motor is lit while the motor below still burns", "the stages collide, and both motors drive one airframe"},
	SlowOrLow:     {"lights-slow-or-low", "The upper motor is lit below 40 m/s of airspeed or below 60 m, late in the coast or after a weak boost", "fins do not hold a slow rocket: it goes anywhere"},
	MotorRefused:  {"lights-though-refused", "The upper motor is lit where the scenario demands that it stays cold", "a check that should have stopped it did not"},
	NothingOpens:  {"nothing-opens", "A body with parachutes comes in faster than 20 m/s", "it comes in like an arrow"},
	DrogueOnly:    {"lands-hard", "A body with parachutes lands at 10.67 to 20 m/s, as below a drogue alone", "a blow from it breaks bones"},
	DrogueAtSpeed: {"drogue-at-speed", "The drogue is fired above the airspeed that it stands", "it tears off or cuts the airframe open"},
	MainAtSpeed:   {"main-at-speed", "The main is fired above the airspeed that it stands", "it shreds, and nothing is left to open"},
	MainTooHigh:   {"main-with-the-drogue", "The main is fired before the drogue or within a second after it", "it drifts for miles, into roads and lines"},
	StaysOn:       {"stays-on", "An output is on for more than 5 s", "it is live when somebody picks the rocket up"},
	TooShort:      {"pulse-too-short", "An output is on for less than its charge or igniter needs", "the board believes that it fired; a live charge comes down"},
	MotorCold:     {"upper-motor-stays-cold", "The upper motor is not lit though it should be", "it comes down live, in the hands of whoever fetches it"},
	Late:          {"late-or-never", "An output that should fire is late or stays dark", "the flight goes on without it"},
	WrongData:     {"says-what-is-not", "The board reports what is not so, or dies", "people act on it"},
}

// All lists the hazards.
func All() (all []Hazard) {
	for h := range hazardCount {
		all = append(all, h)
	}
	return all
}

// Word is a hazard's short name.
func (h Hazard) Word() string { return rows[h][0] }

// What says what happens.
func (h Hazard) What() string { return rows[h][1] }

// Harm says what comes of it.
func (h Hazard) Harm() string { return rows[h][2] }

// Set is a set of hazards.
type Set uint32

// Has says that a hazard is in the set.
func (s Set) Has(h Hazard) bool { return s>>h&1 != 0 }

func (s *Set) add(h Hazard, is bool) {
	if is {
		*s |= 1 << h
	}
}
