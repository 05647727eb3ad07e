package project

import (
	"fmt"
	"math"
	"strings"
)

// draft is what the templates show of a rocket.
type draft struct {
	Name        string
	Two         bool
	Top, Low    string // the stages with the nose and with the motor that lifts off
	Stages      []stage
	Boards      []board
	Rail        string // m
	MainFrom    string // m, between which heights the main must open
	MainTo      string
	Within      string // m, of the apogee that the board reports
	ApogeeLeast string // m
	ApogeeMost  string
	Tumbles     bool // what falls without canopies leaves the model
	FastTop     bool // a flight that leans is fast where its drogue opens

	StagingSpeed string // m/s, the least for the sustainer's motor
	main         float64
	stagingLow   float64 // m, the least height for the sustainer's motor
	stagingLate  float64 // s after liftoff, the latest
	fast         bool    // near Mach 1 or above
	upperSpan    float64 // of the fins, as a share of what is usual
	lowerSpan    float64
}

// stage is one stage of the vehicle's file. Lengths are in m, masses in kg.
type stage struct {
	Name                               string
	Length, Diameter, Mass, CG         float64
	Axial, Transverse                  float64 // kg m2
	Nose                               float64 // 0: none
	Root, Tip, Span, Sweep, FinStation float64
	CD, StackedCD                      float64 // StackedCD 0: none
	Fast                               bool    // drag against Mach number
	Motor                              motor
	MotorStation                       float64
	Lit                                string
	Separates                          bool
	Canopies                           []canopy
}

type canopy struct {
	Name      string
	Diameter  float64
	Inflation string // s
	Opens     string
}

type board struct {
	Stage    string
	Address  string // as in the project's file
	Two      bool
	Station  float64
	Outputs  []output
	Settings []string
}

type output struct {
	Channel         int
	Name, Does, Pin string
}

// motor is a motor of an invented but usual kind.
type motor struct {
	Name, File                         string
	Propellant, Case, Length, Diameter float64
	Curve                              []string
	burn                               float64 // s
}

func (m *motor) mass() float64 { return m.Propellant + m.Case }

// What is usual for solid motors of this size and for the rockets that they fly in: common practice, no source.
const (
	impulsePerMass  = 1900.0 // N s/kg of propellant
	casePerMass     = 1.1    // mass of the case by that of the propellant
	fill            = 560.0  // kg/m3, propellant by the volume of the whole motor
	motorShare      = 0.55   // diameter of a motor by that of its body
	widestMotor     = 0.9
	longestMotor    = 0.6 // by the length of its stage
	thrustWeight    = 8.0 // mean thrust by the weight that it lifts
	shortest        = 0.6 // s, of a burn
	longest         = 6.0
	drogueSpeed     = 16.0 // m/s, descent
	mainSpeed       = 5.5
	boosterSpeed    = 7.0
	stagingDelay    = 1.0 // s after the booster's burnout
	canopyDrag      = 0.75
	seaLevelDensity = 1.225 // kg/m3, ICAO Doc 7488
	gravity         = 9.80665
)

// thrustShape is a curve of thrust by its mean against the share of the burn.
var thrustShape = [][2]float64{{0, 0}, {0.03, 0.95}, {0.1, 1.25}, {0.35, 1.2}, {0.7, 0.95}, {0.9, 0.8}, {0.96, 0.25}, {1, 0}}

// motorOf makes a motor of an impulse for what it lifts (kg) in a body of a diameter and length.
func motorOf(name string, impulse, lifts, diameter, length float64) (motor, error) {
	m := motor{Name: strings.ToUpper(name[:1]) + name[1:], File: name + ".csv", Propellant: impulse / impulsePerMass}
	m.Case = casePerMass * m.Propellant
	m.burn = min(max(impulse/(thrustWeight*lifts*gravity), shortest), longest)
	for m.Diameter = motorShare * diameter; ; m.Diameter = min(m.Diameter*1.1, widestMotor*diameter) {
		m.Length = m.Propellant / fill / (math.Pi / 4 * m.Diameter * m.Diameter)
		if m.Length <= longestMotor*length {
			break
		}
		if m.Diameter >= widestMotor*diameter {
			return m, fmt.Errorf("a motor of %.4g N s does not fit a body of %.0f mm: give a larger diameter or less impulse", impulse, diameter*1e3)
		}
	}
	m.Length = max(m.Length, 1.5*m.Diameter)
	area := 0.0
	for i := 1; i < len(thrustShape); i++ {
		a, b := thrustShape[i-1], thrustShape[i]
		area += (b[0] - a[0]) * (a[1] + b[1]) / 2
	}
	for _, p := range thrustShape {
		m.Curve = append(m.Curve, fmt.Sprintf("%.3f,%.2f", p[0]*m.burn, p[1]*impulse/(area*m.burn)))
	}
	return m, nil
}

// body makes a stage of usual proportions, as long as so many diameters.
func body(name string, diameter, length float64) stage {
	return stage{Name: name, Diameter: diameter, Length: length * diameter}
}

// weigh gives a stage its mass without a motor, and what follows from it.
func (s *stage) weigh(mass, cg float64) {
	s.Mass, s.CG = mass, cg*s.Length
	s.Axial = 0.65 * mass * s.Diameter * s.Diameter / 4 // most of it in the wall
	s.Transverse = 0.9 * mass * (s.Length*s.Length/12 + s.Diameter*s.Diameter/16)
}

// finned gives a stage three fins at its tail: root, tip, span and sweep in diameters.
func (s *stage) finned(root, tip, span, sweep float64) {
	d := s.Diameter
	s.Root, s.Tip, s.Span, s.Sweep = root*d, tip*d, span*d, sweep*d
	s.FinStation = s.Length - s.Root - 0.1*d
}

// carries puts a motor at the tail of a stage.
func (s *stage) carries(m motor) {
	s.Motor, s.MotorStation = m, s.Length-m.Length
}

// canopyFor is the diameter of a canopy under which a mass comes down at a speed, in still air at sea level.
func canopyFor(mass, speed float64) float64 {
	area := 2 * mass * gravity / (seaLevelDensity * canopyDrag * speed * speed)
	return math.Sqrt(4 * area / math.Pi)
}
