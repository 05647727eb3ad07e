package files

import (
	"regexp"
	"strings"

	"drystage/harness"
	"drystage/sim"
	"drystage/sim/quantity"
)

// scene is what the texts of a scenario may speak of.
type scene struct {
	vehicle *sim.Vehicle
	bays    []sim.Bay
	// crossings are those spoken of so far; each is an event.
	crossings []sim.Crossing
}

// dims are the dimensions of sim.Quantity, in order of its constants.
var dims = [...]quantity.Dimension{
	sim.Height: quantity.Length, sim.Airspeed: quantity.Speed, sim.Speed: quantity.Speed, sim.Climb: quantity.Speed,
	sim.Descent: quantity.Speed, sim.Tilt: quantity.Angle, sim.Mach: quantity.Number, sim.Acceleration: quantity.Acceleration,
	sim.DynamicPressure: quantity.Pressure,
}

// events lists the names of all events that can happen to a vehicle.
func events(v *sim.Vehicle) []string {
	names := []string{sim.EventStart, sim.EventLaunch, sim.EventLiftoff, sim.EventRailExit, sim.EventMaxQ, sim.EventApogee, sim.EventLanding}
	if len(v.Stages) > 1 {
		names = append(names, sim.EventSeparation)
	}
	for i := range v.Stages {
		s := &v.Stages[i]
		stage := []string{sim.StageApogee, sim.StageLanding}
		if len(s.Mount.Motor.Thrust) > 0 {
			stage = append(stage, sim.StageIgnition, sim.StageBurnout)
		}
		if i > 0 {
			stage = append(stage, sim.StageSeparation)
		}
		for _, d := range s.Recovery {
			stage = append(stage, d.Name)
		}
		for _, e := range stage {
			names = append(names, s.Name+"."+e)
		}
	}
	return names
}

// anchor reads `EVENT`, `EVENT + SPAN`, `EVENT - SPAN` or a bare SPAN after the start.
func (r *reader) anchor(n *node, s *scene) (a sim.Anchor, ok bool) {
	text := strings.TrimSpace(n.text)
	if t, err := quantity.Parse(text, quantity.Time); err == nil {
		return sim.Anchor{Event: sim.EventStart, Offset: sim.Seconds(t)}, true
	}
	text, a.Offset, ok = r.offset(n, text)
	if !ok {
		return a, false
	}
	if m := crossingText.FindStringSubmatch(text); m != nil {
		a.Event, ok = r.crossing(n, m, s)
		return a, ok
	}
	known := events(s.vehicle)
	if !contains(known, text) {
		hint := near(text, known)
		if hint == "" {
			hint = "events: " + strings.Join(known, ", ") + "; or `height falling through 150 m` and the like"
		}
		r.found(n.at, quote(text)+", an event that can't happen here", "an event of this vehicle", hint)
		return a, false
	}
	a.Event = text
	return a, true
}

// offset cuts a trailing ` + SPAN` or ` - SPAN` off.
func (r *reader) offset(n *node, text string) (event string, offset sim.Time, ok bool) {
	i := max(strings.LastIndex(text, " + "), strings.LastIndex(text, " - "))
	if i < 0 {
		return text, 0, true
	}
	t, ok := r.quantity(&node{at: n.at, text: strings.TrimSpace(text[i+3:])}, quantity.Time, 0, 3600)
	if text[i+1] == '-' {
		t = -t
	}
	return strings.TrimSpace(text[:i]), sim.Seconds(t), ok
}

var crossingText = regexp.MustCompile(`^(?:(\S+) +)?(\S+) +(rising|falling) +through +(.+)$`)

// crossing reads `[STAGE] QUANTITY rising|falling through VALUE` and gives its event's name.
func (r *reader) crossing(n *node, m []string, s *scene) (name string, ok bool) {
	c := sim.Crossing{Falling: m[3] == "falling"}
	if m[1] != "" {
		if c.Stage, ok = r.stageNamed(n, m[1], s.vehicle); !ok {
			return "", false
		}
	}
	if c.Quantity, ok = r.quantityWord(n, m[2]); !ok {
		return "", false
	}
	d := dims[c.Quantity]
	if c.Value, ok = r.quantity(&node{at: n.at, text: m[4]}, d, -1e7, 1e7); !ok {
		return "", false
	}
	c.Name = s.vehicle.Stages[c.Stage].Name + " " + c.Quantity.String() + " " + m[3] + " through " + quantity.Text(c.Value, d)
	for _, o := range s.crossings {
		if o.Name == c.Name {
			return c.Name, true
		}
	}
	s.crossings = append(s.crossings, c)
	return c.Name, true
}

func (r *reader) quantityWord(n *node, word string) (sim.Quantity, bool) {
	for i, w := range sim.Quantities() {
		if w == word {
			return sim.Quantity(i + 1), true
		}
	}
	r.found(n.at, "the unknown quantity "+quote(word), oneOf(sim.Quantities()), near(word, sim.Quantities()))
	return 0, false
}

// anchorOf reads the anchor behind a key; the zero one when the key was not written.
func (r *reader) anchorOf(t *values, key string, s *scene) (a sim.Anchor, ok bool) {
	if !t.has(key) {
		return a, false
	}
	return r.anchor(t.by[key].n, s)
}

// ordered wants a window to begin before it ends, as far as the texts alone can tell.
func (r *reader) ordered(from, to sim.Anchor, at harness.Place, s *scene) {
	backwards := from.Event == to.Event && from.Offset >= to.Offset
	a, isA := s.named(from.Event)
	b, isB := s.named(to.Event)
	if isA && isB && a.Stage == b.Stage && a.Quantity == b.Quantity && a.Falling == b.Falling && from.Event != to.Event && from.Offset >= to.Offset {
		backwards = a.Falling == (a.Value < b.Value)
	}
	if backwards {
		r.found(at, "a window that ends before it begins", "`from` before `to`", "swap them")
	}
}

func (s *scene) named(event string) (sim.Crossing, bool) {
	for _, c := range s.crossings {
		if c.Name == event {
			return c, true
		}
	}
	return sim.Crossing{}, false
}
