package files

import (
	"path"
	"slices"
	"strings"

	"drystage/harness"
	"drystage/sim"
	"drystage/sim/quantity"
)

var gustBlock = block{"a discrete 1-cosine gust met between two heights", []field{
	{key: "base", form: asQuantity, dim: quantity.Length, least: 0, most: 20000, need: true, doc: "height above the pad where it begins"},
	{key: "length", form: asQuantity, dim: quantity.Length, least: 1, most: 5000, need: true, doc: "height from its beginning to its end"},
	{key: "peak", form: asQuantity, dim: quantity.Speed, least: -50, most: 50, need: true, doc: "speed in its middle"},
	{key: "from", form: asQuantity, dim: quantity.Angle, least: -360 * degree, most: 360 * degree, need: true, doc: "where it comes from, clockwise from north"},
}}

var windBlock = block{"a steady wind with a power-law profile, and gusts", []field{
	{key: "speed", form: asQuantity, dim: quantity.Speed, least: 0, most: 60, need: true, doc: "at `height`"},
	{key: "from", form: asQuantity, dim: quantity.Angle, least: -360 * degree, most: 360 * degree, need: true, doc: "where it comes from, clockwise from north"},
	{key: "height", form: asQuantity, dim: quantity.Length, least: 0.5, most: 1000, doc: "above ground of `speed`; 10 m if left away"},
	{key: "exponent", form: asQuantity, dim: quantity.Number, least: 0, most: 1, doc: "of the power law; 0.143 if left away"},
	{key: "gusts", form: asBlocks, block: &gustBlock, doc: "gusts"},
}}

var weatherBlock = block{"the day, where it differs from the vehicle's site", []field{
	{key: "temperature", form: asQuantity, dim: quantity.Temperature, least: 203.15, most: 333.15, doc: "at the pad"},
	{key: "pressure", form: asQuantity, dim: quantity.Pressure, least: 40000, most: 110000, doc: "at the pad, not reduced to sea level"},
	{key: "wind", form: asBlock, block: &windBlock, doc: "left away: calm"},
}}

var roleBlock = block{"a board in its seat", []field{
	{key: "file", form: asFile, need: true, doc: "a board file"},
	{key: "stage", form: asText, doc: "the stage that carries it; left away: that of the role's name"},
	{key: "settings", form: asSettings, doc: "settings that differ from the board file's"},
}}

var commandBlock = block{"an operator's command", []field{
	{key: "at", form: asAnchor, need: true, doc: "when it is given"},
	{key: "give", form: asWord, words: []string{"arm", "disarm", "stage"}, need: true, doc: "the command"},
	{key: "to", form: asText, doc: "the board's role; left away: all boards"},
}}

var scenarioBlock = block{"a flight, what goes wrong in it, and what is demanded of the boards", []field{
	kindField("scenario"),
	{key: "like", form: asFile, doc: "a scenario from which every key not given here is taken"},
	{key: "title", form: asText, need: true, doc: "one line for tables"},
	{key: "story", form: asText, doc: "why the scenario exists"},
	{key: "vehicle", form: asFile, need: true, doc: "a vehicle file"},
	{key: "boards", form: asRoles, block: &roleBlock, need: true, doc: "the boards by role"},
	{key: "weather", form: asBlock, block: &weatherBlock, doc: "the day"},
	{key: "rail", form: asBlock, block: &railBlock, doc: "the rail, where it differs from the vehicle's"},
	{key: "seed", form: asWhole, least: 0, most: 1e15, doc: "of all chance; 1 if left away"},
	spell("launch", 600, false, "when the launch controller fires; 5 s if left away"),
	{key: "commands", form: asBlocks, block: &commandBlock, doc: "the operator's commands"},
	{key: "faults", form: asVariants, variants: faultBlocks, doc: "what goes wrong"},
	{key: "until", form: asAnchor, doc: "when the run is whole; landing + 1 s if left away"},
	{key: "limit", form: asQuantity, dim: quantity.Time, least: 1, most: 3600, doc: "when the run is cut short; 600 s if left away"},
	{key: "expect", form: asVariants, variants: expectBlocks, need: true, doc: "what is demanded"},
}}

// scenarioTree reads a scenario with what it takes from others by `like`.
func (r *reader) scenarioTree(name string, at harness.Place, chain []string) *node {
	if slices.Contains(chain, name) {
		r.found(at, "a circle of `like`: "+strings.Join(append(chain, name), " -> "), "a scenario that stands by itself at the end", "")
		return nil
	}
	n := r.yamlFile(name, "scenario", at)
	if n == nil {
		return nil
	}
	like := n.get("like")
	if like == nil || like.kind != scalar {
		return n
	}
	base := r.scenarioTree(beside(like.at, like.text), like.at, append(chain, name))
	if base == nil {
		return nil
	}
	for _, p := range base.pairs {
		if n.get(p.key) == nil {
			n.pairs = append(n.pairs, p)
		}
	}
	return n
}

// plan reads a scenario and everything it names.
func (r *reader) plan(name string) (p harness.Plan) {
	n := r.scenarioTree(name, harness.Place{}, nil)
	if n == nil {
		return p
	}
	t := r.take(n, &scenarioBlock)
	base := path.Base(name)
	p = harness.Plan{
		Name: strings.TrimSuffix(base, path.Ext(base)), File: name,
		Title: t.text("title"), Story: strings.TrimSpace(t.text("story")),
	}
	s := &p.Setup
	s.Seed = uint64(t.or("seed", 1))
	s.Launch = sim.Seconds(t.or("launch", 5))
	s.Limit = sim.Seconds(t.or("limit", 600))
	sc := r.seats(t, &p)
	if sc == nil {
		return p
	}
	weather(t.sub("weather"), s)
	s.Vehicle.Rail = rail(t.sub("rail"), s.Vehicle.Rail)
	r.flown(t, s, sc)
	for _, x := range t.list("expect") {
		if e, ok := r.expectation(x, sc); ok {
			p.Expect = append(p.Expect, e)
		}
	}
	if t.has("expect") && len(t.list("expect")) == 0 {
		r.found(t.place("expect"), "no expectation", "at least one", "a scenario that demands nothing proves nothing")
	}
	s.Crossings = sc.crossings
	return p
}

// seats reads the vehicle and its boards; nil when too little is known to go on.
func (r *reader) seats(t *values, p *harness.Plan) *scene {
	if !t.has("vehicle") {
		return nil
	}
	v, ok := r.vehicle(beside(t.place("vehicle"), t.text("vehicle")), t.place("vehicle"))
	if !ok {
		return nil
	}
	p.Setup.Vehicle = v.Vehicle
	sc := &scene{vehicle: &p.Setup.Vehicle}
	for _, w := range v.whens {
		*w.into, _ = r.anchor(w.n, sc)
	}
	roles := t.sub("boards")
	if t.has("boards") && len(roles.names) == 0 {
		r.found(t.place("boards"), "no board", "at least one", "")
	}
	for _, name := range roles.names {
		r.seat(name, roles.by[name].block, p)
	}
	sc.bays = p.Setup.Bays
	return sc
}

// seat puts one board into its bay.
func (r *reader) seat(role string, t *values, p *harness.Plan) {
	if len(role) > 16 {
		r.found(t.at, "the role "+quote(role), "at most 16 letters", "")
	}
	if !t.has("file") {
		return
	}
	bay, b, ok := r.board(beside(t.place("file"), t.text("file")), t.place("file"), &p.Setup.Vehicle)
	if !ok {
		return
	}
	stage := &node{at: t.at, text: role}
	if t.has("stage") {
		stage = t.by["stage"].n
	}
	bay.Stage, _ = r.stageNamed(stage, stage.text, &p.Setup.Vehicle)
	bay.Name, b.Role = role, role
	settings := t.sub("settings")
	for _, name := range settings.names {
		b.Settings = override(b.Settings, harness.Setting{Name: name, Value: settings.num(name)})
	}
	p.Setup.Bays = append(p.Setup.Bays, bay)
	p.Boards = append(p.Boards, b)
}

func override(all []harness.Setting, one harness.Setting) []harness.Setting {
	for i := range all {
		if all[i].Name == one.Name {
			all[i] = one
			return all
		}
	}
	return append(all, one)
}

func weather(t *values, s *sim.Setup) {
	site := &s.Vehicle.Site
	site.Temperature = t.or("temperature", site.Temperature)
	site.Pressure = t.or("pressure", site.Pressure)
	w := t.sub("wind")
	s.Wind = sim.Wind{Speed: w.num("speed"), From: w.num("from"), Height: w.or("height", 10), Exponent: w.or("exponent", 0.143)}
	for _, g := range w.list("gusts") {
		s.Wind.Gusts = append(s.Wind.Gusts, sim.Gust{Base: g.num("base"), Length: g.num("length"), Peak: g.num("peak"), From: g.num("from")})
	}
}

// flown reads commands, faults and the end of the run.
func (r *reader) flown(t *values, s *sim.Setup, sc *scene) {
	gives := map[string]sim.Commands{"arm": sim.CommandArm, "disarm": sim.CommandDisarm, "stage": sim.CommandStage}
	for _, c := range t.list("commands") {
		at, ok := r.anchorOf(c, "at", sc)
		bay := -1
		if c.has("to") {
			var known bool
			bay, known = r.role(c.by["to"].n, c.text("to"), sc)
			ok = ok && known
		}
		if ok && c.has("give") {
			s.Commands = append(s.Commands, sim.Command{At: at, Bay: bay, What: gives[c.text("give")]})
		}
	}
	for _, x := range t.list("faults") {
		if f, ok := r.fault(x, sc); ok {
			s.Faults = append(s.Faults, f)
		}
	}
	if len(t.list("faults")) > sim.MaxFaults {
		r.found(t.place("faults"), count(len(t.list("faults")), "fault"), "at most 64", "")
	}
	s.Until = sim.Anchor{Event: sim.EventLanding, Offset: sim.Second}
	if a, ok := r.anchorOf(t, "until", sc); ok {
		s.Until = a
	}
}
