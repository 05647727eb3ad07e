package harness

import "drystage/sim"

// Vary is one thing that may differ from flight to flight, and in which range. A single flight takes no
// notice of it; a sweep draws a value for each flight, a search looks for the worst one.
type Vary struct {
	Name  string // as files have it: "wind.speed", "booster.mass"
	What  Varied
	Index int        // of the stage, bay or fault; of DragScale, AllStages is the whole vehicle
	From  sim.Anchor // of FaultFrom: what the drawn span is added to
	Unit  string     // SI unit of all values; empty: a plain number
	Law   Law
	// Low and High are the ends of an even law, and where a normal one is cut: no value lies outside.
	Low, High   float64
	Mean, Sigma float64 `json:",omitzero"` // of a normal law
	Place       Place   `json:",omitzero"`
}

// AllStages is the index of all stages at once.
const AllStages = -1

// Law is how values are spread over a range.
type Law uint8

// The laws.
const (
	Even   Law = iota // each value from Low to High is as likely as any other
	Normal            // Mean and Sigma, drawn again until it lies from Low to High
)

// String names the law.
func (l Law) String() string { return [...]string{"even", "normal"}[l] }

// Likely gives the ends of the range that holds what may well happen: all of an even law, and of a normal
// one three standard deviations to both sides, as far as it isn't cut before.
func (v *Vary) Likely() (low, high float64) {
	if v.Law == Normal {
		return max(v.Low, v.Mean-3*v.Sigma), min(v.High, v.Mean+3*v.Sigma)
	}
	return v.Low, v.High
}

// Varied is what a Vary changes. Shares and spans stand for themselves; all else is the new value.
type Varied uint8

// The things that can differ.
const (
	WindSpeed      Varied = iota // m/s, the steady wind's
	WindFrom                     // rad, where the steady wind comes from; gusts turn with it
	Temperature                  // K at the pad
	Pressure                     // Pa at the pad
	RailTilt                     // rad from vertical
	RailAzimuth                  // rad clockwise from north
	StageMass                    // kg without motor; its inertia goes with it
	CGShift                      // m aft, added to a stage's centre of gravity
	DragScale                    // factor on the drag of a stage, and on that of the stack that it is the lowest of
	ImpulseScale                 // factor on the thrust of a stage's motors; the propellant's mass stays
	BurnTimeScale                // factor on their burn time, total impulse the same
	IgniterDelay                 // s
	BatteryVoltage               // V of a board's battery, fresh and without load
	FaultFrom                    // s from the event of a fault's beginning
	FaultBy                      // the size of a fault, in its own unit
)

// Value is what one varied thing is in one flight, in SI.
type Value struct {
	Name  string
	Value float64
	Unit  string `json:",omitzero"` // SI; empty: a plain number
}

// Drawn says which flight of a sweep a plan is. The zero value is none.
type Drawn struct {
	Seed   uint64 // the sweep's
	Flight int    // from 1
}
