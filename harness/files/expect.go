package files

import (
	"regexp"
	"strings"

	"drystage/harness"
	"drystage/sim/quantity"
)

func output(key, doc string) field { return field{key: key, form: asText, need: true, doc: doc} }

func bound(key, doc string) field { return field{key: key, form: asLater, doc: doc} }

const anOutput = "BOARD.OUTPUT, such as sustainer.drogue"

var expectBlocks = []*block{
	{"an output switches on inside a window; its first edge counts", []field{
		output("fires", anOutput),
		{key: "from", form: asAnchor, need: true, doc: "the window opens"},
		{key: "to", form: asAnchor, need: true, doc: "the window closes"},
	}},
	{"an output stays dark: ever, inside a window, or while a quantity is out of bounds", []field{
		output("never", anOutput),
		{key: "from", form: asAnchor, doc: "dark from here"},
		{key: "after", form: asAnchor, doc: "the same as from"},
		{key: "to", form: asAnchor, doc: "dark to here"},
		{key: "before", form: asAnchor, doc: "the same as to"},
		{key: "while", form: asText, doc: "[STAGE] QUANTITY above|below VALUE"},
	}},
	{"an output switches on at most once", []field{output("once", anOutput)}},
	{"how long an output stays on", []field{output("pulse", anOutput), bound("at_least", "shortest"), bound("at_most", "longest")}},
	{"one output switches on before another", []field{
		{key: "order", form: asPair, need: true, doc: "[earlier, later], each BOARD.OUTPUT"},
		bound("at_least", "least gap"), bound("at_most", "greatest gap"),
	}},
	{"a quantity of the vehicle at the moment an output switches on", []field{
		output("firing", anOutput),
		{key: "quantity", form: asText, need: true, doc: "[STAGE] QUANTITY; the stage of the output's board is the default"},
		bound("at_least", "least value"), bound("at_most", "greatest value"),
	}},
	{"a quantity of the vehicle at an event", []field{
		{key: "event", form: asAnchor, need: true, doc: "the event, without a span"},
		{key: "quantity", form: asText, need: true, doc: "[STAGE] QUANTITY; the event's own stage is the default, or else the top one"},
		bound("at_least", "least value"), bound("at_most", "greatest value"),
	}},
	{"what a board reports, against the truth", []field{
		{key: "report", form: asWord, words: []string{"apogee_height"}, need: true, doc: "what it reports"},
		{key: "board", form: asText, need: true, doc: "the board's role"},
		{key: "within", form: asQuantity, dim: quantity.Length, least: 0.01, most: 10000, need: true, doc: "greatest error"},
	}},
	{"a board answers to the end and never restarts unless its power was cut", []field{
		{key: "alive", form: asText, need: true, doc: "the board's role"},
	}},
}

// expectation reads one expectation; which kind it is, its block's first field tells.
func (r *reader) expectation(t *values, s *scene) (e harness.Expectation, ok bool) {
	word := t.block.fields[0].key
	e.Place = t.at
	e.Text = sentence(t)
	if !t.has(word) {
		return e, false
	}
	n := t.by[word].n
	switch word {
	case "fires":
		e.Kind = harness.Fires
		ok = r.output(n, &e.Output, s) && r.window(t, &e, s)
	case "never":
		e.Kind = harness.Never
		ok = r.output(n, &e.Output, s) && r.window(t, &e, s) && r.while(t, &e, s)
	case "once":
		e.Kind = harness.Once
		ok = r.output(n, &e.Output, s)
	case "pulse":
		e.Kind = harness.Pulse
		ok = r.output(n, &e.Output, s) && r.bounds(t, &e, quantity.Time, true)
	case "order":
		e.Kind = harness.Order
		ok = r.output(n.items[0], &e.Output, s) && r.output(n.items[1], &e.Then, s) && r.bounds(t, &e, quantity.Time, false)
	case "firing":
		e.Kind = harness.AtFiring
		ok = r.output(n, &e.Output, s) && r.measured(t, &e, s, s.bays[e.Output.Bay].Stage)
	case "event":
		e.Kind = harness.AtEvent
		ok = r.atEvent(t, n, &e, s)
	case "report":
		e.Kind, e.Report = harness.Reports, harness.ApogeeHeight
		e.Most, e.HasMost = t.num("within"), t.has("within")
		if t.has("board") {
			e.Bay, ok = r.role(t.by["board"].n, t.text("board"), s)
		}
	case "alive":
		e.Kind = harness.Alive
		e.Bay, ok = r.role(n, n.text, s)
	}
	return e, ok
}

// sentence writes an expectation as one line, its keys in the order of the table.
func sentence(t *values) string {
	var parts []string
	for _, f := range t.block.fields {
		v, ok := t.by[f.key]
		switch {
		case !ok:
		case f.form == asPair:
			parts = append(parts, f.key+": "+v.n.items[0].text+", "+v.n.items[1].text)
		case len(parts) == 0:
			parts = append(parts, f.key+": "+v.n.text)
		default:
			parts = append(parts, f.key+" "+v.n.text)
		}
	}
	return strings.Join(parts, ", ")
}

// output finds BOARD.OUTPUT.
func (r *reader) output(n *node, c *harness.Channel, s *scene) bool {
	role, name, _ := strings.Cut(n.text, ".")
	bay, ok := r.role(n, role, s)
	if !ok {
		return false
	}
	var names []string
	for _, w := range s.bays[bay].Wires {
		if names = append(names, w.Name); w.Name == name {
			*c = harness.Channel{Bay: bay, Channel: w.Channel, Name: n.text}
			return true
		}
	}
	r.found(n.at, quote(name)+", an output that "+role+" does not have", "one of "+orNone(names), near(name, names))
	return false
}

// window reads from and to, or after and before.
func (r *reader) window(t *values, e *harness.Expectation, s *scene) bool {
	before := len(r.problems)
	for _, two := range [...][2]string{{"from", "after"}, {"to", "before"}} {
		if t.has(two[0]) && t.has(two[1]) {
			r.found(t.place(two[1]), "both `"+two[0]+"` and `"+two[1]+"`", "one of them", "they mean the same")
		}
	}
	for _, key := range [...]string{"from", "after"} {
		if a, ok := r.anchorOf(t, key, s); ok {
			e.From, e.HasFrom = a, true
		}
	}
	for _, key := range [...]string{"to", "before"} {
		if a, ok := r.anchorOf(t, key, s); ok {
			e.To, e.HasTo = a, true
		}
	}
	if e.HasFrom && e.HasTo {
		r.ordered(e.From, e.To, t.at, s)
	}
	return len(r.problems) == before
}

var whileText = regexp.MustCompile(`^(.+) +(above|below) +(.+)$`)

// while reads `[STAGE] QUANTITY above|below VALUE`: the output is dark while that holds.
func (r *reader) while(t *values, e *harness.Expectation, s *scene) bool {
	if !t.has("while") {
		return true
	}
	n := t.by["while"].n
	m := whileText.FindStringSubmatch(n.text)
	if m == nil {
		r.found(n.at, quote(n.text), "[STAGE] QUANTITY above|below VALUE, as in `sustainer tilt above 20 deg`", "")
		return false
	}
	if !r.quantityOf(n, m[1], e, s, s.bays[e.Output.Bay].Stage) {
		return false
	}
	x, ok := r.quantity(&node{at: n.at, text: m[3]}, dims[e.Quantity], -1e7, 1e7)
	if m[2] == "above" {
		e.Most, e.HasMost = x, true
	} else {
		e.Least, e.HasLeast = x, true
	}
	return ok
}

// quantityOf reads `[STAGE] QUANTITY`.
func (r *reader) quantityOf(n *node, text string, e *harness.Expectation, s *scene, stage int) (ok bool) {
	words := strings.Fields(text)
	e.Stage = stage
	switch len(words) {
	case 1:
	case 2:
		if e.Stage, ok = r.stageNamed(n, words[0], s.vehicle); !ok {
			return false
		}
	default:
		r.found(n.at, quote(text), "[STAGE] QUANTITY", "")
		return false
	}
	e.Quantity, ok = r.quantityWord(n, words[len(words)-1])
	return ok
}

func (r *reader) measured(t *values, e *harness.Expectation, s *scene, stage int) bool {
	return t.has("quantity") && r.quantityOf(t.by["quantity"].n, t.text("quantity"), e, s, stage) && r.bounds(t, e, dims[e.Quantity], true)
}

func (r *reader) atEvent(t *values, n *node, e *harness.Expectation, s *scene) bool {
	a, ok := r.anchor(n, s)
	if !ok {
		return false
	}
	if a.Offset != 0 {
		r.found(n.at, quote(n.text), "an event without a span", "")
		return false
	}
	e.Event = a.Event
	stage := 0
	name, _, _ := strings.Cut(a.Event, ".")
	for i, w := range stageNames(s.vehicle) {
		if w == name {
			stage = i
		}
	}
	return r.measured(t, e, s, stage)
}

// bounds reads at_least and at_most.
func (r *reader) bounds(t *values, e *harness.Expectation, d quantity.Dimension, need bool) bool {
	good := true
	if t.has("at_least") {
		e.Least, e.HasLeast = r.quantity(t.by["at_least"].n, d, -1e7, 1e7)
		good = e.HasLeast
	}
	if t.has("at_most") {
		e.Most, e.HasMost = r.quantity(t.by["at_most"].n, d, -1e7, 1e7)
		good = good && e.HasMost
	}
	switch {
	case need && !t.has("at_least") && !t.has("at_most"):
		r.found(t.at, "neither `at_least` nor `at_most`", "one of them, or both", "")
		return false
	case e.HasLeast && e.HasMost && e.Least >= e.Most:
		r.found(t.place("at_least"), "an `at_least` that is not below `at_most`", "a range with room in it", "swap them")
		return false
	}
	return good
}
