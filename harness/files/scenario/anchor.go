package scenario

import (
	"fmt"
	"slices"
	"strings"

	"drystage/harness"
	"drystage/sim"
	"drystage/sim/quantity"
)

// writtenAnchor is an anchor as a file has it. Whether its event can occur is checked later.
type writtenAnchor struct {
	event    string // or one of our own making, if crosses
	crosses  bool
	crossing crossing
	offset   sim.Time
}

// crossing is a quantity of a stage passing a value; an empty stage is the top one.
type crossing struct {
	of      measurand
	falling bool
	value   float64
}

// measurand is a quantity of the body of a stage; an empty stage is the default one.
type measurand struct {
	stage    string
	quantity sim.Quantity
}

const anchorForm = "EVENT, EVENT + SPAN, EVENT - SPAN, or [STAGE] QUANTITY rising|falling through VALUE"

// actionWords are the words before what a board or the operator does, as in "output sustainer.ignite" (it
// switches on) and "command arm".
var actionWords = []string{"output", "command"}

// anchor is the shape of an instant told by an event.
type anchor struct{}

func (anchor) schema() map[string]any { return map[string]any{"type": "string", "minLength": 1} }

func (anchor) read(l *loader, n *node) any {
	if !l.isScalar(n, anchorForm) {
		return nil
	}
	w, err := parseAnchor(n.text)
	if err != nil {
		l.reportQuantity(n.at, err)
		return nil
	}
	return w
}

func wrongAnchor(text, want, hint string) error {
	return &quantity.Error{Found: quote(text), Wanted: want, Hint: hint}
}

// parseAnchor takes the text of an anchor apart. Errors are *quantity.Error.
func parseAnchor(text string) (writtenAnchor, error) {
	s := strings.Join(strings.Fields(text), " ")
	for _, way := range [...][2]string{{" through ", ""}, {" rising above ", " rising"}, {" falling below ", " falling"}} {
		if left, right, is := strings.Cut(s, way[0]); is {
			return parseCrossing(text, left+way[1], right)
		}
	}
	if f := strings.Fields(s); slices.Contains(f, "rising") || slices.Contains(f, "falling") {
		return writtenAnchor{}, wrongAnchor(text, anchorForm, `a crossing needs its value, as in "height falling through 150 m"`)
	}
	i := strings.IndexAny(s, "+-")
	if i == 0 || s != "" && strings.ContainsRune("0123456789.", rune(s[0])) {
		x, err := span(s)
		return writtenAnchor{event: sim.EventStart, offset: x}, err
	}
	if i < 0 {
		i = len(s)
	}
	w := writtenAnchor{event: strings.TrimSpace(s[:i])}
	what := w.event
	if deed, of, is := strings.Cut(w.event, " "); is && slices.Contains(actionWords, deed) {
		what = of
	}
	for _, part := range strings.Split(what, ".") {
		if !nameWord.MatchString(part) {
			return w, wrongAnchor(text, anchorForm, "")
		}
	}
	var err error
	if i < len(s) {
		w.offset, err = signedSpan(s[i:])
	}
	return w, err
}

// signedSpan reads "+ 2 s" or "- 2 s".
func signedSpan(s string) (sim.Time, error) {
	x, err := span(strings.TrimSpace(s[1:]))
	if s[0] == '-' {
		x = -x
	}
	return x, err
}

// longest is the longest run, and so the greatest offset.
const longest = 3600 * sim.Second

func span(s string) (sim.Time, error) {
	x, err := quantity.Parse(s, quantity.Time)
	if err == nil && (x > longest.Seconds() || x < -longest.Seconds()) {
		err = wrongAnchor(s, "a time of at most 3600 s", "")
	}
	if err != nil {
		return 0, err
	}
	return sim.Seconds(x), nil
}

func parseCrossing(text, left, right string) (writtenAnchor, error) {
	w := writtenAnchor{crosses: true}
	f := strings.Fields(left)
	if n := len(f); n < 2 || n > 3 || f[n-1] != "rising" && f[n-1] != "falling" {
		return w, wrongAnchor(text, "[STAGE] QUANTITY rising|falling through VALUE", "")
	}
	w.crossing.falling = f[len(f)-1] == "falling"
	var err error
	if w.crossing.of, err = parseMeasurand(strings.Join(f[:len(f)-1], " ")); err != nil {
		return w, err
	}
	if i := max(strings.LastIndex(right, " + "), strings.LastIndex(right, " - ")); i >= 0 {
		if w.offset, err = signedSpan(right[i+1:]); err != nil {
			return w, err
		}
		right = right[:i]
	}
	w.crossing.value, err = quantity.Parse(right, dimension(w.crossing.of.quantity))
	return w, err
}

// parseMeasurand reads "[STAGE] QUANTITY".
func parseMeasurand(text string) (measurand, error) {
	f := strings.Fields(text)
	want := "[STAGE] QUANTITY, the quantity one of " + strings.Join(sim.Quantities(), ", ")
	if len(f) == 0 || len(f) > 2 {
		return measurand{}, wrongAnchor(text, want, "")
	}
	word := f[len(f)-1]
	i := slices.Index(sim.Quantities(), word)
	if i < 0 {
		return measurand{}, wrongAnchor(text, want, nearest(word, sim.Quantities()))
	}
	m := measurand{quantity: sim.Quantity(i + 1)}
	if len(f) == 2 {
		m.stage = f[0]
	}
	return m, nil
}

func dimension(q sim.Quantity) quantity.Dimension {
	switch q {
	case sim.Height:
		return quantity.Length
	case sim.Tilt:
		return quantity.Angle
	case sim.Mach:
		return quantity.Number
	case sim.Acceleration:
		return quantity.Acceleration
	case sim.DynamicPressure:
		return quantity.Pressure
	}
	return quantity.Speed
}

// eventCatalogue is all events that the flights of a vehicle can have. It gathers the crossings that the files name.
type eventCatalogue struct {
	stages    []string
	motors    []bool     // by stage
	devices   [][]string // by stage
	launch    sim.Time   // of the scenario; 0 while unknown
	crossings []sim.Crossing
	actions   []sim.Mark // what boards and operator can do in this scenario
	unknown   bool       // a board's file could not be read, so that its outputs aren't known
	marks     []sim.Mark // those that the files speak of
	awaited   []awaited  // all that the files wait for
}

// stage gives the index of a stage; it reports and gives -1 when there is none of that name.
func (c *eventCatalogue) stage(l *loader, at harness.Place, name string) int {
	i := slices.Index(c.stages, name)
	if i < 0 {
		l.report(harness.Problem{Place: at, Found: "unknown stage " + quote(name), Wanted: "a stage of the vehicle: " + choices(c.stages), Hint: nearest(name, c.stages)})
	}
	return i
}

// device gives the index of a stage's recovery device, 0 when there is none of the name, which it reports.
func (c *eventCatalogue) device(l *loader, at harness.Place, stage int, name string) int {
	devices := c.devices[stage]
	i := slices.Index(devices, name)
	if i >= 0 {
		return i
	}
	hint := nearest(name, devices)
	switch {
	case hint != "":
	case len(devices) == 0:
		hint = "stage " + c.stages[stage] + " has no recovery devices"
	default:
		hint = "stage " + c.stages[stage] + " has " + choices(devices)
	}
	l.report(harness.Problem{Place: at, Found: "unknown device " + quote(c.stages[stage]+"."+name), Wanted: "a recovery device of the vehicle", Hint: hint})
	return 0
}

// measurand gives stage and quantity, the default stage when none is named.
func (c *eventCatalogue) measurand(l *loader, at harness.Place, m measurand, stage int) (int, sim.Quantity) {
	if m.stage != "" {
		stage = c.stage(l, at, m.stage)
	}
	return stage, m.quantity
}

// anchor checks that the event of a value of shape anchor can occur. ok is false when it can't, which
// was reported, and when the value isn't there.
func (c *eventCatalogue) anchor(l *loader, v value) (a sim.Anchor, ok bool) {
	w, ok := v.x.(writtenAnchor)
	if !ok {
		return a, false
	}
	a = sim.Anchor{Event: w.event, Offset: w.offset}
	if w.crosses {
		a.Event, ok = c.cross(l, v.at, w.crossing)
	} else {
		ok = c.occurs(l, v.at, w.event)
	}
	if ok {
		c.awaited = append(c.awaited, awaited{at: v.at, event: a.Event})
	}
	if at, known := c.known(a); ok && known && at < 0 {
		l.report(harness.Problem{Place: v.at, Found: a.String(), Wanted: "a time after the start of the run", Hint: "a later `launch` leaves more time before it"})
		return a, false
	}
	return a, ok
}

// known gives the time of an anchor whose event's time is part of the plan.
func (c *eventCatalogue) known(a sim.Anchor) (sim.Time, bool) {
	switch {
	case a.Event == sim.EventStart || a.Event == "":
		return a.Offset, true
	case a.Event == sim.EventLaunch && c.launch > 0:
		return c.launch + a.Offset, true
	}
	return 0, false
}

// cross gives the name of a crossing's event, and adds the crossing unless it is there already.
func (c *eventCatalogue) cross(l *loader, at harness.Place, x crossing) (event string, ok bool) {
	stage, q := c.measurand(l, at, x.of, 0)
	if stage < 0 {
		return "", false
	}
	way := "rising"
	if x.falling {
		way = "falling"
	}
	s := sim.Crossing{Stage: stage, Quantity: q, Falling: x.falling, Value: x.value}
	s.Name = fmt.Sprintf("%s %s %s through %s", c.stages[stage], q, way, quantity.Text(x.value, dimension(q)))
	if !slices.Contains(c.crossings, s) {
		c.crossings = append(c.crossings, s)
	}
	return s.Name, true
}

// events lists all that can occur.
func (c *eventCatalogue) events() []string {
	list := []string{sim.EventStart, sim.EventLaunch, sim.EventLiftoff, sim.EventRailExit, sim.EventMaxQ, sim.EventApogee, sim.EventLanding}
	if len(c.stages) > 1 {
		list = append(list, sim.EventSeparation)
	}
	for i, s := range c.stages {
		list = append(list, s+"."+sim.StageApogee, s+"."+sim.StageLanding)
		if c.motors[i] {
			list = append(list, s+"."+sim.StageIgnition, s+"."+sim.StageBurnout)
		}
		if i > 0 {
			list = append(list, s+"."+sim.StageSeparation)
		}
		for _, d := range c.devices[i] {
			list = append(list, s+"."+d)
		}
	}
	return list
}

// occurs reports an event that can't occur, and why.
func (c *eventCatalogue) occurs(l *loader, at harness.Place, event string) bool {
	if slices.Contains(c.events(), event) {
		return true
	}
	if i := slices.IndexFunc(c.actions, func(m sim.Mark) bool { return m.Name == event }); i >= 0 {
		if !slices.Contains(c.marks, c.actions[i]) {
			c.marks = append(c.marks, c.actions[i])
		}
		return true
	}
	if c.unknown && strings.HasPrefix(event, "output ") {
		return false
	}
	p := harness.Problem{Place: at, Found: "event " + quote(event), Wanted: "an event that can occur in this flight", Hint: c.hint(event)}
	l.report(p)
	return false
}

func (c *eventCatalogue) hint(event string) string {
	if deed, _, is := strings.Cut(event, " "); is {
		return c.actionHint(event, deed)
	}
	name, what, dotted := strings.Cut(event, ".")
	i := slices.Index(c.stages, name)
	switch {
	case event == sim.EventSeparation:
		return "the vehicle has one stage only"
	case dotted && i < 0:
		hint := nearest(name, c.stages)
		if hint == "" {
			hint = "the stages are " + choices(c.stages)
		}
		return hint
	case dotted && (what == sim.StageIgnition || what == sim.StageBurnout):
		return "stage " + name + " has no motor"
	case dotted && what == sim.StageSeparation:
		return "stage " + name + " has no stage above it to let go of"
	}
	if hint := nearest(event, c.events()); hint != "" {
		return hint
	}
	return "the events are " + choices(c.events())
}

// actionHint names the outputs or commands that there are.
func (c *eventCatalogue) actionHint(event, deed string) string {
	var of []string
	for _, m := range c.actions {
		if strings.HasPrefix(m.Name, deed+" ") {
			of = append(of, m.Name)
		}
	}
	if hint := nearest(event, of); hint != "" {
		return hint
	}
	if len(of) == 0 {
		return "nothing here does any " + deed
	}
	return "there is " + choices(of)
}
