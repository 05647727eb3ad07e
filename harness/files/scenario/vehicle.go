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
// c knows then what can happen in its flights.
func (l *loader) vehicle(f *file) (v sim.Vehicle, c *course, ok bool) {
	n := l.head(f, "vehicle")
	if n == nil {
		return v, nil, false
	}
	o, _ := vehicleTable.read(l, n).(*object)
	v.Name = o.get("name").text()
	c = &course{}
	stages := o.get("stages").objects()
	for i, s := range stages {
		v.Stages = append(v.Stages, l.stage(s, i, len(stages)))
		c.add(l, s, &v.Stages[i])
	}
	for i, s := range stages {
		l.plans(s, &v.Stages[i], c, i == len(stages)-1)
	}
	l.litByItself(stages, &v)
	v.Rail, v.Site = rail(o.get("rail").object(), sim.Rail{}), site(o.get("site").object())
	return v, c, len(stages) > 0
}

func rail(o *object, r sim.Rail) sim.Rail {
	override(&r.Length, o.get("length"))
	override(&r.Tilt, o.get("tilt"))
	override(&r.Azimuth, o.get("azimuth"))
	override(&r.Friction, o.get("friction"))
	if g := o.get("guides").object(); g != nil {
		r.Guides = [2]float64{g.get("fore").num(), g.get("aft").num()}
	}
	return r
}

func override(x *float64, v value) {
	if v.ok() {
		*x = v.num()
	}
}

func site(o *object) sim.Site {
	s := sim.Site{Latitude: o.get("latitude").num(), Longitude: o.get("longitude").num(), Elevation: o.get("elevation").num()}
	s.Temperature, s.Pressure = standardAir(s.Elevation)
	override(&s.Temperature, o.get("temperature"))
	override(&s.Pressure, o.get("pressure"))
	return s
}

// add makes the stage's names known; a name that stands there twice is reported.
func (c *course) add(l *loader, o *object, s *sim.Stage) {
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

// stage builds all of a stage but what hangs on events.
func (l *loader) stage(o *object, i, stages int) sim.Stage {
	s := sim.Stage{
		Name: o.get("name").text(), Length: o.get("length").num(), Diameter: o.get("diameter").num(),
		Mass: o.get("mass").num(), CG: o.get("cg").num(),
	}
	s.Inertia = inertia(o.get("inertia").object(), &s)
	if n := o.get("nose").object(); n != nil {
		s.Nose = sim.Nose{Shape: sim.Shape(shapeWord.index(n.get("shape"))), Length: n.get("length").num(), Diameter: s.Diameter}
		override(&s.Nose.Diameter, n.get("diameter"))
		l.within(n.get("length"), s.Length, "the nose's length")
	}
	for _, t := range o.get("transitions").objects() {
		s.Transitions = append(s.Transitions, sim.Transition{Station: t.get("station").num(), Length: t.get("length").num(), Front: t.get("front").num(), Rear: t.get("rear").num()})
		l.within(t.get("station"), s.Length, "a station")
	}
	for _, f := range o.get("fins").objects() {
		s.Fins = append(s.Fins, sim.Fins{
			Count: int(f.get("count").num()), Root: f.get("root").num(), Tip: f.get("tip").num(), Span: f.get("span").num(), Sweep: f.get("sweep").num(),
			Thickness: f.get("thickness").num(), Station: f.get("station").num(), Cant: f.get("cant").num(),
			Profile: sim.Profile(profileWord.index(f.get("profile"))),
		})
		l.within(f.get("station"), s.Length, "a station")
	}
	l.within(o.get("cg"), s.Length, "the centre of gravity")
	s.Drag = l.drag(o.get("drag"))
	s.Stacked = s.Drag
	if v := o.get("stacked_drag"); v.given {
		s.Stacked = l.drag(v)
	}
	if v := o.get("separation"); v.given && i == 0 {
		l.report(harness.Problem{Place: v.at, Found: "a separation on the top stage", Wanted: "separation on lower stages only", Hint: "it tells how a stage lets go of the one above it"})
	}
	if i > 0 {
		s.Separation = l.separation(o.get("separation"))
	}
	l.mount(o.get("motor").object(), &s)
	if i == stages-1 && len(o.vals) > 0 && !o.get("motor").given {
		l.report(harness.Problem{Place: o.at, Found: "a lowest stage without a motor", Wanted: "a motor that lifts the rocket off"})
	}
	return s
}

// within reports a place along a stage that lies beyond its end.
func (l *loader) within(v value, most float64, what string) {
	if v.ok() && most > 0 && v.num() > most {
		l.report(harness.Problem{Place: v.at, Found: quantity.Text(v.num(), quantity.Length), Wanted: fmt.Sprintf("%s within the stage's %s", what, quantity.Text(most, quantity.Length))})
	}
}

func (s words) index(v value) int { return max(0, slices.Index(s, v.text())) }

// inertia takes the measured values, or a solid cylinder of the stage's mass, diameter and length:
// m r2/2 and m (3 r2 + l2)/12, the textbook formulas.
func inertia(o *object, s *sim.Stage) sim.Inertia {
	if o.get("axial").ok() && o.get("transverse").ok() {
		return sim.Inertia{Axial: o.get("axial").num(), Transverse: o.get("transverse").num()}
	}
	r2 := s.Diameter * s.Diameter / 4
	return sim.Inertia{Axial: s.Mass * r2 / 2, Transverse: s.Mass * (3*r2 + s.Length*s.Length) / 12, Estimated: true}
}

func (l *loader) drag(v value) sim.Drag {
	o := v.object()
	if o == nil {
		return sim.Drag{}
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
	d := sim.Drag{Cd: o.get("cd").num(), Built: o.get("roughness").given, Roughness: o.get("roughness").num()}
	last := -1.0
	for _, p := range o.get("table").objects() {
		m := p.get("mach")
		if m.ok() && m.num() <= last {
			l.report(harness.Problem{Place: m.at, Found: fmt.Sprintf("mach %v after %v", m.num(), last), Wanted: "Mach numbers that rise from row to row"})
		}
		last = m.num()
		d.Points = append(d.Points, sim.DragPoint{Mach: m.num(), Cd: p.get("cd").num(), PowerOn: p.get("power_on").num()})
	}
	return d
}

func (l *loader) separation(v value) sim.Separation {
	o := v.object()
	if o == nil {
		o, _ = separationTable.read(l, &node{at: v.at, kind: mapping}).(*object)
	}
	return sim.Separation{Mode: sim.SeparationMode(partWord.index(o.get("mode"))), Delay: o.get("delay").time(), Speed: o.get("speed").num()}
}

func (v value) time() sim.Time { return sim.Seconds(v.num()) }

func (l *loader) mount(o *object, s *sim.Stage) {
	if o == nil {
		return
	}
	s.Mount.Station = o.get("station").num()
	l.within(o.get("station"), s.Length, "the motor's front end")
	ign := o.get("igniter").object()
	s.Mount.Igniter = sim.Igniter{Pulse: ign.get("pulse").time(), Delay: ign.get("delay").time(), Scatter: ign.get("scatter").time()}
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

// cluster reads how the motors of a mount stand, point and chuff.
func (l *loader) cluster(o *object, s *sim.Stage) {
	count, circle, turned := o.get("count"), o.get("circle"), o.get("misalignment").object()
	s.Mount.Count, s.Mount.Radius = int(count.num()), circle.num()/2
	if (s.Mount.Count > 1) != circle.given {
		l.report(harness.Problem{Place: o.at, Found: fmt.Sprintf("count %d and circle %s", s.Mount.Count, quantity.Text(circle.num(), quantity.Length)),
			Wanted: "both a count above 1 and a circle, or neither", Hint: "the circle is where the axes of a cluster's motors stand"})
	}
	s.Mount.Misalignment = sim.Misalignment{Angle: turned.get("angle").num(), Clock: turned.get("clock").num(), Scatter: turned.get("scatter").num()}
	last := sim.Time(0)
	for _, p := range o.get("pauses").objects() {
		at := p.get("at")
		if at.ok() && at.time() <= last {
			l.report(harness.Problem{Place: at.at, Found: "a pause at " + at.time().String() + " after one at " + last.String(), Wanted: "pauses in order of time"})
		}
		last = at.time()
		s.Mount.Pauses = append(s.Mount.Pauses, sim.Pause{At: at.time(), For: p.get("for").time()})
	}
}

// plans reads when the builder means the stage's motor to burn and its devices to open.
func (l *loader) plans(o *object, s *sim.Stage, c *course, lowest bool) {
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
	for _, d := range o.get("recovery").objects() {
		s.Recovery = append(s.Recovery, l.device(d, c))
	}
}

func (l *loader) device(o *object, c *course) sim.Device {
	d := sim.Device{
		Name: o.get("name").text(), Area: o.get("area").num(), Delay: o.get("delay").time(),
		Pulse: o.get("pulse").time(), Inflation: o.get("inflation").time(),
	}
	round, cd := o.get("diameter"), o.get("cd")
	if o != nil && (o.get("area").given == round.given || round.given != cd.given) {
		l.report(harness.Problem{Place: o.at, Found: "a recovery device without one clear size", Wanted: "either area, or diameter and cd"})
	}
	d.Fill, d.Growth = o.get("fill").num(), int(o.get("growth").num())
	d.Diameter, d.Rated = round.num(), o.get("rated_speed").num()
	if fill := o.get("fill"); fill.given && !round.given {
		l.report(harness.Problem{Place: fill.at, Found: "a fill without a diameter", Wanted: "the canopy's diameter and cd", Hint: "it fills in so many diameters of travel"})
	}
	if s := o.get("snatch").object(); s != nil && s.get("stretch").ok() {
		d.Snatch = sim.Snatch{Mass: s.get("mass").num(), Speed: s.get("speed").num(), Stiffness: s.get("load").num() / s.get("stretch").num()}
	}
	if round.given {
		d.Area = cd.num() * math.Pi / 4 * round.num() * round.num()
	}
	d.Opens, _ = c.anchor(l, o.get("opens"))
	l.openOnThePad(o.get("opens"), &d, c)
	return d
}
