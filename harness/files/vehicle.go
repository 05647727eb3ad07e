package files

import (
	"math"

	"drystage/harness"
	"drystage/sim"
	"drystage/sim/quantity"
)

const degree = math.Pi / 180

func length(key string, most float64, need bool, doc string) field {
	return field{key: key, form: asQuantity, dim: quantity.Length, least: 0, most: most, need: need, doc: doc}
}

func spell(key string, most float64, need bool, doc string) field {
	return field{key: key, form: asQuantity, dim: quantity.Time, least: 0, most: most, need: need, doc: doc}
}

var noseBlock = block{"the nose; its base has the stage's diameter unless told otherwise", []field{
	{key: "shape", form: asWord, words: []string{"ogive", "cone", "parabola", "ellipse"}, need: true, doc: "shape of the nose"},
	length("length", 5, true, "tip to base"),
	length("diameter", 1, false, "of the base"),
}}

var transitionBlock = block{"a conical change of diameter", []field{
	length("station", 10, true, "of its front, aft of the stage's front end"),
	length("length", 5, true, "along the body"),
	length("front", 1, true, "diameter in front"),
	length("rear", 1, true, "diameter behind"),
}}

var finsBlock = block{"a set of equal trapezoidal fins", []field{
	{key: "count", form: asWhole, least: 2, most: 8, need: true, doc: "how many"},
	length("root", 2, true, "chord at the body"),
	length("tip", 2, true, "chord at the tip"),
	length("span", 1, true, "body surface to tip"),
	length("sweep", 2, true, "root leading edge to tip leading edge, along the body"),
	length("thickness", 0.05, true, "of a fin"),
	length("station", 10, true, "of the root leading edge, aft of the stage's front end"),
	{key: "cant", form: asQuantity, dim: quantity.Angle, least: -10 * degree, most: 10 * degree, doc: "all fins turned alike"},
}}

var dragPointBlock = block{"a row of the drag table", []field{
	{key: "mach", form: asQuantity, dim: quantity.Number, least: 0, most: 10, need: true, doc: "Mach number, rising from row to row"},
	{key: "cd", form: asQuantity, dim: quantity.Number, least: 0, most: 10, need: true, doc: "drag coefficient"},
}}

var dragBlock = block{"drag coefficient on the largest cross-section: a constant, or a table against Mach number", []field{
	{key: "cd", form: asQuantity, dim: quantity.Number, least: 0, most: 10, doc: "at every Mach number"},
	{key: "table", form: asBlocks, block: &dragPointBlock, doc: "against Mach number, straight lines between"},
}}

var igniterBlock = block{"the igniter", []field{
	spell("pulse", 5, true, "least time that the output must be on"),
	spell("delay", 10, true, "from there to the motor's first thrust"),
	spell("scatter", 5, false, "one standard deviation of the delay"),
}}

var mountBlock = block{"the motor in its stage", []field{
	{key: "file", form: asFile, need: true, doc: "thrust curve, a motor file"},
	length("station", 10, true, "of the motor's front end, aft of the stage's front end"),
	{key: "igniter", form: asBlock, block: &igniterBlock, need: true, doc: "what lights it"},
	{key: "lit", form: asAnchor, doc: "when it is meant to be lit; rehearsals use it"},
}}

var separationBlock = block{"how the stage lets go of the one above it", []field{
	{key: "mode", form: asWord, words: []string{"drag", "charge", "motor"}, need: true, doc: "drag: it slides off after its burnout; charge: an output fires a charge; motor: held until the upper motor lights"},
	spell("delay", 60, false, "drag: after burnout; charge: from the output"),
	{key: "speed", form: asQuantity, dim: quantity.Speed, least: 0, most: 50, doc: "at which the two part"},
}}

var deviceBlock = block{"a parachute or streamer", []field{
	{key: "name", form: asText, need: true, doc: "as in STAGE.NAME"},
	{key: "area", form: asQuantity, dim: quantity.Area, least: 1e-4, most: 500, doc: "drag area Cd*S when open; or give diameter and cd"},
	length("diameter", 30, false, "of the open canopy"),
	{key: "cd", form: asQuantity, dim: quantity.Number, least: 0.01, most: 5, doc: "drag coefficient on the canopy's area"},
	spell("delay", 10, false, "from the output to line stretch"),
	spell("pulse", 5, false, "least time that the output must be on"),
	spell("inflation", 30, true, "from line stretch to fully open"),
	{key: "opens", form: asAnchor, doc: "when it is meant to open; rehearsals use it"},
}}

var inertiaBlock = block{"moments of inertia of the stage without motor, about its own centre of gravity", []field{
	{key: "axial", form: asQuantity, dim: quantity.Inertia, least: 1e-9, most: 1e4, need: true, doc: "about the long axis"},
	{key: "transverse", form: asQuantity, dim: quantity.Inertia, least: 1e-9, most: 1e5, need: true, doc: "about an axis across"},
}}

var stageBlock = block{"one section that can fly by itself", []field{
	{key: "name", form: asText, need: true, doc: "as in STAGE.EVENT"},
	{key: "length", form: asQuantity, dim: quantity.Length, least: 0.01, most: 20, need: true, doc: "front end to rear end"},
	{key: "diameter", form: asQuantity, dim: quantity.Length, least: 0.005, most: 2, need: true, doc: "largest diameter"},
	{key: "mass", form: asQuantity, dim: quantity.Mass, least: 0.001, most: 2000, need: true, doc: "all but the motor"},
	{key: "cg", form: asQuantity, dim: quantity.Length, least: 0, most: 20, need: true, doc: "centre of gravity without motor, aft of the front end"},
	{key: "inertia", form: asBlock, block: &inertiaBlock, doc: "measured; left away, that of a solid cylinder is taken"},
	{key: "nose", form: asBlock, block: &noseBlock, doc: "left away: a blunt front"},
	{key: "transitions", form: asBlocks, block: &transitionBlock, doc: "shoulders and boat-tails"},
	{key: "fins", form: asBlocks, block: &finsBlock, doc: "fin sets"},
	{key: "drag", form: asBlock, block: &dragBlock, need: true, doc: "of the stage flying alone"},
	{key: "stacked_drag", form: asBlock, block: &dragBlock, doc: "of this stage with all stages above it; left away: as `drag`"},
	{key: "motor", form: asBlock, block: &mountBlock, doc: "left away: an empty mount"},
	{key: "separation", form: asBlock, block: &separationBlock, doc: "of lower stages"},
	{key: "recovery", form: asBlocks, block: &deviceBlock, doc: "parachutes and streamers"},
}}

var railBlock = block{"the launch rail", []field{
	{key: "length", form: asQuantity, dim: quantity.Length, least: 0.1, most: 50, doc: "travel until the rocket is free"},
	{key: "tilt", form: asQuantity, dim: quantity.Angle, least: 0, most: 60 * degree, doc: "from vertical"},
	{key: "azimuth", form: asQuantity, dim: quantity.Angle, least: -360 * degree, most: 360 * degree, doc: "the way it leans, clockwise from north"},
}}

var siteBlock = block{"where the rail stands", []field{
	{key: "latitude", form: asQuantity, dim: quantity.Angle, least: -90 * degree, most: 90 * degree, need: true, doc: "north positive"},
	{key: "longitude", form: asQuantity, dim: quantity.Angle, least: -180 * degree, most: 180 * degree, need: true, doc: "east positive"},
	{key: "elevation", form: asQuantity, dim: quantity.Length, least: -450, most: 6000, need: true, doc: "above mean sea level"},
	{key: "temperature", form: asQuantity, dim: quantity.Temperature, least: 203.15, most: 333.15, doc: "at the pad; left away: of the standard atmosphere"},
	{key: "pressure", form: asQuantity, dim: quantity.Pressure, least: 40000, most: 110000, doc: "at the pad, not reduced to sea level; left away: of the standard atmosphere"},
}}

var vehicleBlock = block{"a rocket as its builder measured it", []field{
	kindField("vehicle"),
	{key: "name", form: asText, need: true, doc: "of the rocket"},
	{key: "stages", form: asBlocks, block: &stageBlock, need: true, doc: "from top to bottom"},
	{key: "rail", form: asBlock, block: &railBlock, need: true, doc: "the launch rail"},
	{key: "site", form: asBlock, block: &siteBlock, need: true, doc: "where the rail stands"},
}}

func kindField(kind string) field {
	return field{key: "drystage", form: asWord, words: []string{kind}, need: true, doc: "the kind of this file"}
}

// vehicle is a vehicle read, with what must wait until its events are known.
type vehicle struct {
	sim.Vehicle
	whens []when
}

// when is an anchor of a vehicle that is still text.
type when struct {
	n    *node
	into *sim.Anchor
}

func (r *reader) vehicle(name string, at harness.Place) (v *vehicle, ok bool) {
	n := r.yamlFile(name, "vehicle", at)
	if n == nil {
		return nil, false
	}
	t := r.take(n, &vehicleBlock)
	v = &vehicle{}
	v.Name = t.text("name")
	stages := t.list("stages")
	if t.has("stages") && (len(stages) == 0 || len(stages) > sim.MaxStages) {
		r.found(t.place("stages"), count(len(stages), "stage"), "1 to 4 stages", "")
	}
	v.Stages = make([]sim.Stage, min(len(stages), sim.MaxStages))
	for i := range v.Stages {
		r.stage(stages[i], v, i)
	}
	v.Rail = rail(t.sub("rail"), sim.Rail{Length: 1})
	if t.has("rail") && !t.sub("rail").has("length") {
		r.found(t.place("rail"), "no key `length`", "the rail's length", "")
	}
	v.Site = site(t.sub("site"))
	return v, len(v.Stages) > 0
}

func rail(t *values, base sim.Rail) sim.Rail {
	return sim.Rail{Length: t.or("length", base.Length), Tilt: t.or("tilt", base.Tilt), Azimuth: t.or("azimuth", base.Azimuth)}
}

func site(t *values) sim.Site {
	s := sim.Site{Latitude: t.num("latitude"), Longitude: t.num("longitude"), Elevation: t.num("elevation")}
	temperature, pressure := standardAir(s.Elevation)
	s.Temperature = t.or("temperature", temperature)
	s.Pressure = t.or("pressure", pressure)
	return s
}

// standardAir gives temperature in K and pressure in Pa of the standard atmosphere at a geometric
// height below 11 km: US Standard Atmosphere 1976, equations 18, 23 and 33a, as ISO 2533:1975.
func standardAir(z float64) (temperature, pressure float64) {
	const radius, t0, p0, lapse, g0, gas = 6356766, 288.15, 101325, -0.0065, 9.80665, 287.053072
	h := radius * z / (radius + z)
	t := t0 + lapse*h
	return t, p0 * math.Pow(t/t0, -g0/(gas*lapse))
}

func (r *reader) stage(t *values, v *vehicle, i int) {
	s := &v.Stages[i]
	*s = sim.Stage{Name: t.text("name"), Length: t.num("length"), Diameter: t.num("diameter"), Mass: t.num("mass"), CG: t.num("cg")}
	r.uniqueName(t, func(name string) bool {
		for _, o := range v.Stages[:i] {
			if o.Name == name {
				return true
			}
		}
		return false
	})
	if s.CG > s.Length && t.has("length") {
		r.found(t.place("cg"), "a centre of gravity behind the rear end", "at most "+quantity.Text(s.Length, quantity.Length), "")
	}
	s.Inertia = inertia(t, s)
	s.Nose = nose(t.sub("nose"))
	for _, x := range t.list("transitions") {
		s.Transitions = append(s.Transitions, sim.Transition{Station: x.num("station"), Length: x.num("length"), Front: x.num("front"), Rear: x.num("rear")})
		r.within(x, "station", s)
	}
	for _, x := range t.list("fins") {
		s.Fins = append(s.Fins, sim.Fins{
			Count: int(x.num("count")), Root: x.num("root"), Tip: x.num("tip"), Span: x.num("span"), Sweep: x.num("sweep"),
			Thickness: x.num("thickness"), Station: x.num("station"), Cant: x.num("cant"),
		})
		r.within(x, "station", s)
	}
	s.Drag = r.drag(t, "drag")
	s.Stacked = s.Drag
	if t.has("stacked_drag") {
		s.Stacked = r.drag(t, "stacked_drag")
	}
	r.mount(t, s, v)
	r.separation(t, s, i)
	r.recovery(t, s, v)
}

// uniqueName checks a name that anchors and outputs speak of.
func (r *reader) uniqueName(t *values, taken func(string) bool) {
	name := t.text("name")
	switch {
	case !t.has("name"):
	case !nameLike(name) || len(name) > 16:
		r.found(t.place("name"), quote(name), "1 to 16 of a-z, 0-9, _ or -, a letter first", "")
	case taken(name):
		r.found(t.place("name"), "the name "+quote(name)+" a second time", "each name once", "")
	}
}

func (r *reader) within(t *values, key string, s *sim.Stage) {
	if t.num(key) > s.Length && s.Length > 0 {
		r.found(t.place(key), "a place behind the stage's rear end", "at most "+quantity.Text(s.Length, quantity.Length), "")
	}
}

// inertia gives what was measured, or that of a solid cylinder: m r2/2 and m (3 r2 + l2)/12.
func inertia(t *values, s *sim.Stage) sim.Inertia {
	if t.has("inertia") {
		b := t.sub("inertia")
		return sim.Inertia{Axial: b.num("axial"), Transverse: b.num("transverse")}
	}
	r := s.Diameter / 2
	return sim.Inertia{Axial: s.Mass * r * r / 2, Transverse: s.Mass * (3*r*r + s.Length*s.Length) / 12, Estimated: true}
}

func nose(t *values) sim.Nose {
	shapes := map[string]sim.Shape{"ogive": sim.Ogive, "cone": sim.Cone, "parabola": sim.Parabola, "ellipse": sim.Ellipse}
	return sim.Nose{Shape: shapes[t.text("shape")], Length: t.num("length"), Diameter: t.num("diameter")}
}

func (r *reader) drag(t *values, key string) (d sim.Drag) {
	b := t.sub(key)
	if t.has(key) && b.has("cd") == b.has("table") {
		r.found(t.place(key), "neither or both of `cd` and `table`", "one of them", "")
	}
	d.Cd = b.num("cd")
	for i, row := range b.list("table") {
		p := sim.DragPoint{Mach: row.num("mach"), Cd: row.num("cd")}
		if i > 0 && p.Mach <= d.Points[i-1].Mach && row.has("mach") {
			r.found(row.place("mach"), "a Mach number that does not rise", "more than that of the row before", "")
		}
		d.Points = append(d.Points, p)
	}
	return d
}

func (r *reader) mount(t *values, s *sim.Stage, v *vehicle) {
	if !t.has("motor") {
		return
	}
	b := t.sub("motor")
	ig := b.sub("igniter")
	s.Mount = sim.Mount{Station: b.num("station"), Igniter: sim.Igniter{Pulse: ig.time("pulse"), Delay: ig.time("delay"), Scatter: ig.time("scatter")}}
	r.within(b, "station", s)
	if b.has("file") {
		s.Mount.Motor, _ = r.motor(beside(b.place("file"), b.text("file")), b.place("file"))
	}
	if m := &s.Mount.Motor; m.Diameter > s.Diameter && s.Diameter > 0 {
		r.found(b.place("file"), "a motor thicker than its stage", "at most "+quantity.Text(s.Diameter, quantity.Length), "")
	}
	if b.has("lit") {
		v.whens = append(v.whens, when{b.by["lit"].n, &s.Mount.Lit})
	}
}

func (r *reader) separation(t *values, s *sim.Stage, i int) {
	if i == 0 {
		if t.has("separation") {
			r.found(t.place("separation"), "a separation of the top stage", "no `separation` here", "it lets go of the stage above, and there is none")
		}
		return
	}
	b := t.sub("separation")
	modes := map[string]sim.SeparationMode{"drag": sim.ByDrag, "charge": sim.ByCharge, "motor": sim.ByMotor}
	s.Separation = sim.Separation{Mode: modes[b.text("mode")], Delay: b.time("delay"), Speed: b.or("speed", 1)}
	if !t.has("separation") {
		s.Separation.Mode = sim.ByMotor
	}
}

func (r *reader) recovery(t *values, s *sim.Stage, v *vehicle) {
	s.Recovery = make([]sim.Device, len(t.list("recovery")))
	for i, b := range t.list("recovery") {
		d := &s.Recovery[i]
		*d = sim.Device{Name: b.text("name"), Area: b.num("area"), Delay: b.time("delay"), Pulse: b.time("pulse"), Inflation: b.time("inflation")}
		r.uniqueName(b, func(name string) bool {
			for _, o := range s.Recovery[:i] {
				if o.Name == name {
					return true
				}
			}
			return contains([]string{sim.StageIgnition, sim.StageBurnout, sim.StageSeparation, sim.StageApogee, sim.StageLanding}, name)
		})
		switch sized := b.has("diameter") && b.has("cd"); {
		case b.has("area") == sized:
			r.found(b.at, "a recovery device without a size", "either `area`, or `diameter` and `cd`", "")
		case sized:
			d.Area = b.num("cd") * math.Pi / 4 * b.num("diameter") * b.num("diameter")
		}
		if b.has("opens") {
			v.whens = append(v.whens, when{b.by["opens"].n, &d.Opens})
		}
	}
}
