package harness

import "drystage/sim"

// Vary is one parameter that may differ from flight to flight, with its range. A single flight ignores it; a sweep draws
// a value for each flight, a search looks for the worst one.
type Vary struct {
	Name  string // as in files: "wind.speed", "booster.mass"
	What  Varied
	Index int        // of the stage, bay or fault; of DragScale, AllStages is the whole vehicle
	From  sim.Anchor // of FaultFrom: what the drawn span is added to
	Unit  string     // SI unit of all values; empty: a plain number
	Law   Law
	// Low and High are the ends of an even or triangular law, the least and the greatest value of a discrete one, and the
	// truncation of a normal one: no value is outside.
	Low, High   float64
	Mean, Sigma float64   `json:",omitzero"` // of a normal law
	Mode        float64   `json:",omitzero"` // of a triangular law: the likeliest value, from Low to High
	Of          []float64 `json:",omitzero"` // of a discrete law: its values, rising
	Shares      []float64 `json:",omitzero"` // the probability of each value of Of; they add up to 1
	Place       Place     `json:",omitzero"`
}

// Correlated says that two varied parameters don't vary independently.
type Correlated struct {
	Pair [2]string // the names of the two
	// Rho is Spearman's rank correlation of the two, -1 to 1. The ranks are those of a normal copula; discrete values,
	// which have equal ranks, correlate a little less.
	Rho   float64
	Place Place `json:",omitzero"`
}

// AllStages is the index of all stages at once.
const AllStages = -1

// Law is a probability distribution over a range.
type Law uint8

// The laws.
const (
	Even       Law = iota // uniform from Low to High
	Normal                // normal with Mean and Sigma, truncated to Low and High
	Triangular            // with a density that rises straight from Low to Mode and falls straight to High
	Discrete              // one of the values Of
)

// laws are the names of the laws.
var laws = [...]string{"even", "normal", "triangular", "discrete"}

// String names the law.
func (l Law) String() string { return laws[l] }

// Laws lists the names of all laws.
func Laws() []string { return laws[:] }

// Likely gives the ends of the range of likely values: all of an even law, and three standard deviations to both sides
// of a normal one, within Low and High.
func (v *Vary) Likely() (low, high float64) {
	if v.Law == Normal {
		return max(v.Low, v.Mean-3*v.Sigma), min(v.High, v.Mean+3*v.Sigma)
	}
	return v.Low, v.High
}

// Varied is what a Vary changes. Its value is the new value, or a factor or shift where the constant says so.
type Varied uint8

// The parameters that can vary.
const (
	WindSpeed      Varied = iota // m/s, the steady wind's
	WindFrom                     // rad, where the steady wind comes from; gusts turn with it
	Temperature                  // K at the pad
	Pressure                     // Pa at the pad
	RailTilt                     // rad from vertical
	RailAzimuth                  // rad clockwise from north
	StageMass                    // kg without motor; its inertia is scaled with it
	CGShift                      // m aft, added to a stage's centre of gravity
	DragScale                    // factor on the drag of a stage, and of the stack in which it is the lowest
	ImpulseScale                 // factor on the thrust of a stage's motors; the propellant's mass doesn't change
	BurnTimeScale                // factor on their burn time, total impulse the same
	IgniterDelay                 // s
	BatteryVoltage               // V of a board's battery, fresh and without load
	FaultFrom                    // s from the event of a fault's beginning
	FaultBy                      // the size of a fault, in its own unit
)

// Value is the value of one varied parameter in one flight, in SI.
type Value struct {
	Name  string
	Value float64
	Unit  string `json:",omitzero"` // SI; empty: a plain number
}

// Drawn says which flight of a sweep a plan is. The zero value is none.
type Drawn struct {
	Seed   uint64 // the sweep's
	Flight int    // from 1
	Points Points `json:",omitzero"`
}

// Points says how the values of a sweep's flights are spread over their ranges.
type Points uint8

// The choices of Points.
const (
	Random Points = iota // each flight is drawn independently of the others
	Sobol                // points of a scrambled Sobol sequence, which fill the ranges more evenly
)

// String names the choice.
func (p Points) String() string { return [...]string{"random", "sobol"}[p] }
