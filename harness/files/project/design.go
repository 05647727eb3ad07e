package project

import (
	"fmt"
	"math"
	"slices"

	"drystage/harness"
	"drystage/harness/files/scenario"
	"drystage/sim"
	"drystage/sim/flight"
	"drystage/sim/world"
)

// How stable a draft is, in calibres, from the rail to apogee, and how high it has to fly for a drogue and a main.
const (
	leastMargin  = 1.3
	leastApogee  = 200.0                 // m
	leastStaging = 45.0                  // m/s upwards, when the sustainer lights
	fastMach     = 0.7                   // up to there one drag coefficient will do
	slowestExit  = 15.0                  // m/s off the rail
	widestFins   = 2.4                   // by the usual span
	moreWind     = 1.7                   // times the wind in which a draft must stay inside the model
	lateDrogue   = 800 * sim.Millisecond // so too
	finStep      = 0.1
)

// design makes a draft, flies it, and makes it again until it flies as it should.
func design(w *Wish) (*draft, error) {
	d := &draft{Name: w.Name, Two: w.Stages == 2, upperSpan: 0.7, lowerSpan: 0.7, main: 100, stagingLow: 30, StagingSpeed: "20", stagingLate: 20,
		MainFrom: "125", MainTo: "75", Within: "30", ApogeeLeast: "10", ApogeeMost: "100000"}
	for {
		if err := d.build(w); err != nil {
			return nil, err
		}
		f, err := d.fly(1, 0)
		if err != nil {
			return nil, err
		}
		s := f.Summary()
		if s.Extremes.Mach > fastMach && !d.fast {
			d.fast = true
			continue
		}
		upper, lower := s.Extremes.Margin >= leastMargin, s.Exit.Stability.Margin >= leastMargin
		if (upper || math.IsNaN(s.Extremes.Margin)) && lower {
			return d, d.suit(w, &s)
		}
		if !lower || !d.Two {
			d.lowerSpan += finStep
		}
		if !upper {
			d.upperSpan += finStep
		}
		if max(d.upperSpan, d.lowerSpan) > widestFins {
			return nil, harness.Errorf("no fins of usual size keep this rocket stable: its motor is too heavy for its tail; give more mass, which a draft has further forward, or less impulse")
		}
	}
}

// build sizes everything but what depends on the flight.
func (d *draft) build(w *Wish) error {
	d.Rail = fmt.Sprintf("%.1f", max(2, 25*w.Diameter))
	if d.Two {
		return d.buildTwo(w)
	}
	return d.buildOne(w)
}

func (d *draft) buildOne(w *Wish) error {
	d.Top, d.Low = "rocket", "rocket"
	s := body("rocket", w.Diameter, 17)
	m, err := motorOf("motor", w.Impulse, w.Mass, w.Diameter, s.Length)
	if err != nil {
		return err
	}
	dry, err := dryMass(w.Mass, &m)
	if err != nil {
		return err
	}
	s.weigh(dry, 0.47)
	s.Nose, s.CD, s.Fast, s.Lit = 3*w.Diameter, 0.55, d.fast, "launch"
	s.finned(1.9, 0.9, 1.1*d.lowerSpan, 0.95)
	s.carries(m)
	s.Canopies = d.canopies("rocket", dry+m.Case)
	d.Stages = []stage{s}
	d.Boards = []board{{Stage: "rocket", Station: 0.3 * s.Length,
		Outputs:  []output{{1, "drogue", "deploy rocket.drogue", "GPIO17"}, {2, "main", "deploy rocket.main", "GPIO27"}},
		Settings: []string{"drogue_channel: 1", "main_channel: 2", fmt.Sprintf("main_height: %.0f m", d.main)}}}
	return nil
}

func (d *draft) buildTwo(w *Wish) error {
	d.Top, d.Low = "sustainer", "booster"
	up, low := body("sustainer", w.Diameter, 14.5), body("booster", w.Diameter, 8.5)
	lower, err := motorOf("booster", w.Impulse, w.Mass, w.Diameter, low.Length)
	if err != nil {
		return err
	}
	upper, err := motorOf("sustainer", w.upper(), 0.55*(w.Mass-lower.mass()), w.Diameter, up.Length)
	if err != nil {
		return err
	}
	dry, err := dryMass(w.Mass, &lower, &upper)
	if err != nil {
		return err
	}
	up.weigh(0.54*dry, 0.48)
	up.Nose, up.CD, up.Fast = 3*w.Diameter, 0.55, d.fast
	up.finned(1.7, 0.85, d.upperSpan, 0.85)
	up.carries(upper)
	up.Lit = fmt.Sprintf("booster.burnout + %.2f s", stagingDelay+0.15)
	up.Canopies = d.canopies("sustainer", up.Mass+upper.Case)
	low.weigh(0.46*dry, 0.5)
	low.CD, low.StackedCD, low.Fast, low.Lit, low.Separates = 0.9, 0.7, d.fast, "launch", true
	low.finned(2, 1, 1.3*d.lowerSpan, 1)
	low.carries(lower)
	low.Canopies = []canopy{{"main", canopyFor(low.Mass+lower.Case, boosterSpeed), "0.5", "booster.apogee"}}
	d.Stages = []stage{up, low}
	d.Boards = []board{
		{Stage: "sustainer", Two: true, Station: 0.28 * up.Length,
			Outputs: []output{{1, "ignite", "ignite sustainer", "GPIO17"}, {2, "drogue", "deploy sustainer.drogue", "GPIO27"}, {3, "main", "deploy sustainer.main", "GPIO22"}},
			Settings: []string{"staging_channel: 1", "drogue_channel: 2", "main_channel: 3", fmt.Sprintf("staging_delay: %.1f s", stagingDelay),
				fmt.Sprintf("staging_min_height: %.0f m", d.stagingLow), "staging_min_speed: " + d.StagingSpeed + " m/s", "staging_max_tilt: 20 deg",
				fmt.Sprintf("staging_latest: %.1f s", d.stagingLate), fmt.Sprintf("main_height: %.0f m", d.main)}},
		{Stage: "booster", Two: true, Station: 0.26 * low.Length,
			Outputs:  []output{{1, "main", "deploy booster.main", "GPIO23"}},
			Settings: []string{"main_channel: 1", "main_height: 10000 m          # as soon as it may"}},
	}
	return nil
}

// canopies of what comes down with a mass.
func (d *draft) canopies(of string, mass float64) []canopy {
	return []canopy{
		{"drogue", canopyFor(mass, drogueSpeed), "0.3", "apogee"},
		{"main", canopyFor(mass, mainSpeed), "0.8", fmt.Sprintf("%s height falling through %.0f m", of, d.main)},
	}
}

// dryMass is what is left of a rocket's mass beside its motors.
func dryMass(mass float64, motors ...*motor) (float64, error) {
	dry := mass
	for _, m := range motors {
		dry -= m.mass()
	}
	if dry < 0.4*mass {
		return 0, harness.Errorf("motors of that impulse weigh about %.2f kg of the %.2f kg at liftoff, which leaves too little for the rocket: give more mass or less impulse", mass-dry, mass)
	}
	return dry, nil
}

// fly flies the draft to the ground, in so many times the wind of its nominal scenario and with drogues that are late.
func (d *draft) fly(wind float64, late sim.Time) (*flight.Flight, error) {
	return d.flyAs("nominal.yaml", func(set *sim.Setup) *flight.Flight {
		set.Wind.Speed *= wind
		return lateIdeal(set, late)
	})
}

// lateIdeal is a flight as it is meant, but with drogues that are late.
func lateIdeal(set *sim.Setup, late sim.Time) *flight.Flight {
	for i := range set.Vehicle.Stages {
		set.Vehicle.Stages[i].Recovery[0].Opens.Offset += late
	}
	set.Rehearsed = world.Rehearse(set)
	return flight.NewIdeal(set)
}

// flyAs flies one of the draft's scenarios to the ground.
func (d *draft) flyAs(name string, begin func(*sim.Setup) *flight.Flight) (*flight.Flight, error) {
	plan, problems := scenario.Load(FS(d.files()), name)
	if len(problems) > 0 {
		return nil, problems[0]
	}
	set := &plan.Setup
	f := begin(set)
	for now := sim.Time(0); now < set.Limit && !f.Landed(); {
		now = min(now+100*sim.Millisecond, set.Limit)
		f.AdvanceTo(now)
	}
	return f, nil
}

// accept lets scenarios accept only what their own flights meet: one whose outputs stay dark, and one that leans and whose
// sustainer is never lit.
func (d *draft) accept() error {
	f, err := d.flyAs("unarmed.yaml", flight.New)
	if err != nil {
		return err
	}
	d.Tumbles = warns(f, sim.AngleOfAttack)
	if !d.Two {
		return nil
	}
	f, err = d.flyAs("staging-tilt.yaml", func(set *sim.Setup) *flight.Flight {
		set.Vehicle.Stages[0].Mount.Lit = sim.Anchor{Event: sim.EventLanding}
		return lateIdeal(set, lateDrogue)
	})
	if err != nil {
		return err
	}
	d.FastTop = warns(f, sim.CanopySpeed)
	return nil
}

func warns(f *flight.Flight, kind sim.WarningKind) bool {
	return slices.ContainsFunc(f.Warnings(), func(w sim.Warning) bool { return w.Kind == kind })
}

// suit sets what depends on the flight.
func (d *draft) suit(w *Wish, s *flight.Summary) error {
	top := s.Extremes.Height
	if top < leastApogee {
		return harness.Errorf("this rocket reaches %.0f m; below %.0f m there is no room for a drogue and a main: give more impulse or less mass", top, leastApogee)
	}
	if s.Exit.Speed < slowestExit {
		return harness.Errorf("this rocket leaves its rail of %s m at %.1f m/s, wanted at least %.0f m/s: give more impulse or less mass", d.Rail, s.Exit.Speed, slowestExit)
	}
	for _, wind := range []float64{1, moreWind} {
		f, err := d.fly(wind, lateDrogue)
		if err != nil {
			return err
		}
		for _, x := range f.Warnings() {
			if x.Kind.OutsideModel() {
				return harness.Errorf("this rocket's flight is outside of what can be simulated: %s; give more impulse or less mass", x.Kind.Text())
			}
		}
	}
	d.main = math.Round(min(max(0.22*top, 70), 300)/10) * 10
	d.MainFrom, d.MainTo = fmt.Sprintf("%.0f", 1.15*d.main+10), fmt.Sprintf("%.0f", 0.85*d.main-10)
	d.Within = fmt.Sprintf("%.0f", math.Ceil(15+0.03*top))
	d.ApogeeLeast, d.ApogeeMost = fmt.Sprintf("%.0f", 0.85*top), fmt.Sprintf("%.0f", 1.15*top)
	if d.Two {
		if err := d.suitStaging(s); err != nil {
			return err
		}
	}
	if err := d.build(w); err != nil {
		return err
	}
	return d.accept()
}

// suitStaging sets the least height and speed at which the sustainer's motor may be lit to half of what the flight has.
func (d *draft) suitStaging(s *flight.Summary) error {
	for _, r := range s.Rows {
		if r.Name != "sustainer."+sim.StageIgnition {
			continue
		}
		if r.Climb < leastStaging {
			return harness.Errorf("the booster leaves the sustainer at %.0f m/s when its motor lights, too slow to fly straight: give more impulse or less mass", r.Climb)
		}
		d.stagingLow, d.StagingSpeed = math.Floor(r.Height/20)*10, fmt.Sprintf("%.0f", math.Floor(r.Climb/10)*5)
		d.stagingLate = math.Ceil(10*((r.At-s.Exit.At).Seconds()+3)) / 10
		return nil
	}
	return harness.Errorf("the sustainer's motor did not light in this draft's flight")
}
