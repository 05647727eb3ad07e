package scenario

import (
	"fmt"
	"math"
	"slices"

	"drystage/harness"
	"drystage/sim"
	"drystage/sim/quantity"
)

// vehicle builds the vehicle that a file describes; ok is false when the file can't be read at all.
// c then has the events of its flights.
func (l *loader) vehicle(f *file) (v sim.Vehicle, c *eventCatalogue, ok bool) {
	n := l.ofKind(f, "vehicle")
	if n == nil {
		return v, nil, false
	}
	o, _ := vehicleTable.read(l, n).(*object)
	o.fill(&v)
	c = &eventCatalogue{}
	stages := o.get("stages").objects()
	for i, s := range stages {
		v.Stages = append(v.Stages, l.stage(s, i, len(stages)))
		c.add(l, s, &v.Stages[i])
	}
	for i, s := range stages {
		l.plans(s, &v.Stages[i], c, i == len(stages)-1)
	}
	l.ignitionLoops(stages, &v)
	return v, c, len(stages) > 0
}

// add takes the events of a stage in; a name that stands there twice is reported.
func (c *eventCatalogue) add(l *loader, o *object, s *sim.Stage) {
	if slices.Contains(c.stages, s.Name) && s.Name != "" {
		l.report(harness.Problem{Place: o.get("name").at, Found: "stage " + quote(s.Name) + " again", Wanted: "each stage with a name of its own"})
	}
	var devices []string
	for _, d := range o.get("recovery").objects() {
		v := d.get("name")
		taken := []string{sim.StageIgnition, sim.StageBurnout, sim.StageSeparation, sim.StageApogee, sim.StageLanding}
		if slices.Contains(devices, v.text()) || slices.Contains(taken, v.text()) {
			l.report(harness.Problem{Place: v.at, Found: "device name " + quote(v.text()) + ", which is taken", Wanted: "a name of its own in its stage"})
		}
		devices = append(devices, v.text())
	}
	c.stages = append(c.stages, s.Name)
	c.devices = append(c.devices, devices)
	c.motors = append(c.motors, o.get("motor").given)
}

// stage builds all of a stage but what depends on events.
func (l *loader) stage(o *object, i, stages int) (s sim.Stage) {
	o.fill(&s)
	l.estimate(o.get("inertia").object(), &s)
	l.within(o.get("nose").object().get("length"), s.Length, "the nose's length")
	for _, part := range append(o.get("transitions").objects(), o.get("fins").objects()...) {
		l.within(part.get("station"), s.Length, "a station")
	}
	l.within(o.get("cg"), s.Length, "the centre of gravity")
	l.drag(o.get("drag").object())
	if l.drag(o.get("stacked_drag").object()); !o.get("stacked_drag").given {
		s.Stacked = s.Drag
	}
	switch v := o.get("separation"); {
	case i == 0 && v.given:
		l.report(harness.Problem{Place: v.at, Found: "a separation on the top stage", Wanted: "separation on lower stages only", Hint: "it tells how a stage lets go of the one above it"})
	case i > 0 && v.object() == nil:
		defaults, _ := separationTable.read(l, &node{at: v.at, kind: mapping}).(*object)
		defaults.fill(&s.Separation)
	}
	if i > 0 {
		separationShock(o.get("separation").object(), &s.Separation)
	}
	l.mount(o.get("motor").object(), &s)
	if i == stages-1 && len(o.vals) > 0 && !o.get("motor").given {
		l.report(harness.Problem{Place: o.at, Found: "a lowest stage without a motor", Wanted: "a motor that lifts the rocket off"})
	}
	return s
}

// separationPush is how long a separation pushes, in order of sim.SeparationMode. Common practice, no source.
var separationPush = [...]sim.Time{30 * sim.Millisecond, 10 * sim.Millisecond, 50 * sim.Millisecond, 50 * sim.Millisecond}

// separationShock sets what a separation's mode says of its force when the file doesn't.
func separationShock(o *object, s *sim.Separation) {
	if o == nil || !o.get("push").given {
		s.Shock.Push = separationPush[s.Mode]
	}
	if s.Mode != sim.ByCharge && (o == nil || !o.get("shock").given) {
		s.Shock.Peak = 0
	}
}

// within reports a place along a stage that lies beyond its end.
func (l *loader) within(v value, most float64, what string) {
	if v.ok() && most > 0 && v.num() > most {
		l.report(harness.Problem{Place: v.at, Found: quantity.Text(v.num(), quantity.Length), Wanted: fmt.Sprintf("%s within the stage's %s", what, quantity.Text(most, quantity.Length))})
	}
}

func (s words) index(v value) int { return max(0, slices.Index(s, v.text())) }

// estimate takes a solid cylinder of the stage's mass, diameter and length for moments of inertia that were not
// measured: m r2/2 and m (3 r2 + l2)/12, the textbook formulas.
func (l *loader) estimate(measured *object, s *sim.Stage) {
	if measured.get("axial").ok() && measured.get("transverse").ok() {
		return
	}
	r2 := s.Diameter * s.Diameter / 4
	s.Inertia = sim.Inertia{Axial: s.Mass * r2 / 2, Transverse: s.Mass * (3*r2 + s.Length*s.Length) / 12, Estimated: true}
}

// drag reports what is wrong in a block of drag as a whole.
func (l *loader) drag(o *object) {
	if o == nil {
		return
	}
	ways := 0
	for _, key := range []string{"cd", "table", "roughness"} {
		if o.get(key).given {
			ways++
		}
	}
	if ways != 1 {
		l.report(harness.Problem{Place: o.at, Found: "a drag with more or less than one of cd, table and roughness", Wanted: "one of the three"})
	}
	l.rising(o.get("table"), "mach", quantity.Number)
}

func (v value) time() sim.Time { return sim.Seconds(v.num()) }

func (l *loader) mount(o *object, s *sim.Stage) {
	if o == nil {
		return
	}
	l.within(o.get("station"), s.Length, "the motor's front end")
	l.cluster(o, s)
	v := o.get("file")
	name, ok := l.resolve(v)
	if !ok {
		return
	}
	if !isMotor(name) {
		l.report(harness.Problem{Place: v.at, Found: quote(v.text()), Wanted: "a motor's .csv file"})
		return
	}
	s.Mount.Motor, _ = l.motor(l.read(name, v.at))
	if d := s.Mount.Motor.Diameter; d > s.Diameter && s.Diameter > 0 {
		l.report(harness.Problem{Place: v.at, Found: "a motor of " + quantity.Text(d, quantity.Length), Wanted: "one that fits the stage's " + quantity.Text(s.Diameter, quantity.Length)})
	}
}

// cluster reports a cluster without a circle, and pauses that are out of order.
func (l *loader) cluster(o *object, s *sim.Stage) {
	if circle := o.get("circle"); (s.Mount.Count > 1) != circle.given {
		l.report(harness.Problem{Place: o.at, Found: fmt.Sprintf("count %d and circle %s", s.Mount.Count, quantity.Text(circle.num(), quantity.Length)),
			Wanted: "both a count above 1 and a circle, or neither", Hint: "the circle is where the axes of a cluster's motors stand"})
	}
	l.rising(o.get("pauses"), "at", quantity.Time)
}

// plans reads when the builder means the stage's motor to burn and its devices to open.
func (l *loader) plans(o *object, s *sim.Stage, c *eventCatalogue, lowest bool) {
	if m := o.get("motor").object(); m != nil {
		lit := m.get("lit")
		switch {
		case lit.given:
			s.Mount.Lit, _ = c.anchor(l, lit)
		case lowest:
			s.Mount.Lit = sim.Anchor{Event: sim.EventLaunch}
		default:
			l.report(harness.Problem{Place: m.at, Found: "an upper motor without \"lit\"", Wanted: "when the builder means it to burn, as in lit: " + c.stages[len(c.stages)-1] + ".burnout + 2 s"})
		}
	}
	for i, d := range o.get("recovery").objects() {
		l.device(d, &s.Recovery[i], c)
	}
}

// device works out the drag area of a recovery device and when the builder means it to open, and reports unclear sizes.
func (l *loader) device(o *object, d *sim.Device, c *eventCatalogue) {
	round, cd := o.get("diameter"), o.get("cd")
	if o.get("area").given == round.given || round.given != cd.given {
		l.report(harness.Problem{Place: o.at, Found: "a recovery device without one clear size", Wanted: "either area, or diameter and cd"})
	}
	if fill := o.get("fill"); fill.given && !round.given {
		l.report(harness.Problem{Place: fill.at, Found: "a fill without a diameter", Wanted: "the canopy's diameter and cd", Hint: "it fills in so many diameters of travel"})
	}
	if round.given {
		d.Area = cd.num() * math.Pi / 4 * round.num() * round.num()
	}
	if !o.get("snatch").given {
		d.Snatch = sim.Snatch{Mass: max(0.01, float64(0.08*d.Area)), Speed: 8, Stiffness: 600}
	}
	d.Opens, _ = c.anchor(l, o.get("opens"))
	l.checkOpening(o.get("opens"), d, c)
}
