package scenario

import (
	"fmt"
	"slices"
	"strings"

	"drystage/harness"
	"drystage/sim"
	"drystage/sim/quantity"
)

var (
	outputWord = name{[]string{"BOARD", "OUTPUT"}, nameLetters}
	boardWord  = name{[]string{"BOARD"}, nameLetters}
	leastRow   = row{key: "at_least", is: amount{}, doc: "the smallest right value"}
	mostRow    = row{key: "at_most", is: amount{}, doc: "the greatest right value"}
)

// expectShape has a table for each kind of expectation, in the order of the harness's kinds.
var expectShape = &variants{"an expectation", []*table{
	{name: "a fires", doc: "The output switches on within a window; its first edge counts.", rows: []row{
		{key: "fires", is: outputWord, need: true, doc: "the output"},
		{key: "from", is: anchor{}, need: true, doc: "the window begins"},
		{key: "to", is: anchor{}, need: true, doc: "the window ends"},
		{key: "answers", is: flag{}, doc: "true: what the output is tied to must do its part as well, no earlier and in the time that it takes: the motor lights, the device opens, the stages part"},
	}},
	{name: "a never", doc: "The output stays dark: ever, inside a window, or while a quantity is out of bounds. A window that the run does not reach to its end, or a quantity that never is out of bounds, proves nothing: unsure.", rows: []row{
		{key: "never", is: outputWord, need: true, doc: "the output"},
		{key: "from", is: anchor{}, doc: "the window begins; default the start"},
		{key: "after", is: anchor{}, doc: "the same as from"},
		{key: "to", is: anchor{}, doc: "the window ends; default the end"},
		{key: "before", is: anchor{}, doc: "the same as to"},
		{key: "while", is: bound{}, doc: "[STAGE] QUANTITY above|below VALUE"},
	}},
	{name: "a once", doc: "The output switches on at most once.", rows: []row{
		{key: "once", is: outputWord, need: true, doc: "the output"},
	}},
	{name: "a pulse", doc: "How long the output stays on.", rows: []row{
		{key: "pulse", is: outputWord, need: true, doc: "the output"}, leastRow, mostRow,
	}},
	{name: "an order", doc: "The first output switches on before the second.", rows: []row{
		{key: "order", is: listShape{outputWord, 2, 2}, need: true, doc: "the two outputs"},
		{key: "at_least", is: seconds(0, 3600), doc: "the gap between them"},
	}},
	{name: "a firing", doc: "A quantity at the moment the output switches on.", rows: []row{
		{key: "firing", is: outputWord, need: true, doc: "the output"},
		{key: "quantity", is: measureShape{}, need: true, doc: "[STAGE] QUANTITY; the stage of the output's board by default"}, leastRow, mostRow,
	}},
	{name: "an event", doc: "A quantity at an event.", rows: []row{
		{key: "event", is: anchor{}, need: true, doc: "the event, without a span"},
		{key: "quantity", is: measureShape{}, need: true, doc: "[STAGE] QUANTITY; the top stage by default"}, leastRow, mostRow,
	}},
	{name: "a report", doc: "What the board reports, against the truth: the apogee height as last reported, or every height or upward speed that it reports inside a window. A value of exactly 0 is no estimate, and isn't judged.", rows: []row{
		{key: "report", is: words(reportWords), need: true, doc: "what it reports"},
		{key: "board", is: boardWord, need: true, doc: "the board"},
		{key: "within", is: amount{}, need: true, doc: "the greatest right error"},
		{key: "from", is: anchor{}, doc: "of height and speed: the window begins; default the start"},
		{key: "to", is: anchor{}, doc: "of height and speed: the window ends; default the end"},
	}},
	{name: "an alive", doc: "The board answers to the end and never restarts unless its power was cut.", rows: []row{
		{key: "alive", is: boardWord, need: true, doc: "the board"},
	}},
	{name: "a happens", doc: "An event of the flight happens: at all, or within a window.", rows: []row{
		{key: "happens", is: anchor{}, need: true, doc: "the event, without a span"},
		{key: "from", is: anchor{}, doc: "the window begins; default the start"},
		{key: "to", is: anchor{}, doc: "the window ends; default the end"},
	}},
	{name: "a reaction", doc: "How long after its cause, an event or a command, the output switches. In lockstep the time from a command or another output is a whole number of ticks, without uncertainty: an output one tick late is late by a number.", rows: []row{
		{key: "reaction", is: outputWord, need: true, doc: "the output"},
		{key: "after", is: anchor{}, need: true, doc: "the cause: an event, `command stage`, or `output BOARD.OUTPUT`, without a span"},
		{key: "within", is: seconds(0, 3600), need: true, doc: "the longest right time"},
		{key: "goes", is: words{"on", "off"}, doc: "which way it switches; on if not given"},
	}},
}}

// reportWords are what boards report, in the order of the harness's kinds of report.
var reportWords = []string{"apogee_height", "height", "speed"}

// expectations builds what a scenario expects.
func (s *planBuilder) expectations(v value) []harness.Expectation {
	build := [...]func(*object, *harness.Expectation){s.fires, s.never, s.once, s.pulse, s.order, s.atFiring, s.atEvent, s.reports, s.alive, s.happens, s.reaction}
	var out []harness.Expectation
	for _, o := range v.objects() {
		k := slices.Index(expectShape.kinds(), o.kind)
		if k < 0 {
			continue
		}
		e := harness.Expectation{Kind: harness.ExpectationKind(k), Place: o.at}
		build[k](o, &e)
		out = append(out, e)
	}
	s.contradictions(out)
	return out
}

func (s *planBuilder) fires(o *object, e *harness.Expectation) {
	e.Output, e.Bay = s.output(o.get("fires"))
	s.window(o.get("from"), o.get("to"), e)
	e.Text = fmt.Sprintf("%s fires from %s to %s", e.Output.Name, e.From, e.To)
	if v := o.get("answers"); v.flag() {
		e.Answers = true
		e.Text += " and is answered"
		s.answers(v, e)
	}
}

func (s *planBuilder) never(o *object, e *harness.Expectation) {
	e.Output, e.Bay = s.output(o.get("never"))
	from, to := s.alternative(o, "from", "after"), s.alternative(o, "to", "before")
	s.window(from, to, e)
	e.Text = e.Output.Name + " never fires"
	switch {
	case e.HasFrom && e.HasTo:
		e.Text += fmt.Sprintf(" from %s to %s", e.From, e.To)
	case e.HasFrom:
		e.Text += " after " + e.From.String()
	case e.HasTo:
		e.Text += " before " + e.To.String()
	}
	if w := o.get("while"); w.ok() {
		if from.given || to.given {
			s.l.report(harness.Problem{Place: w.at, Found: "`while` beside a window", Wanted: "one of the two", Hint: "write two expectations"})
		}
		s.while(w, e)
	}
}

// while reads the bound of a `never`: with `above` a limit, firing is right up to that limit.
func (s *planBuilder) while(v value, e *harness.Expectation) {
	lim, _ := v.x.(limit)
	e.Stage, e.Quantity = s.c.measurand(s.l, v.at, lim.of, 0)
	word := "above"
	if lim.below {
		word, e.Least, e.HasLeast = "below", lim.value, true
	} else {
		e.Most, e.HasMost = lim.value, true
	}
	s.c.awaited = append(s.c.awaited, awaited{at: v.at, bounded: lim.value, below: lim.below, of: e.Quantity, stage: e.Stage})
	e.Text += fmt.Sprintf(" while %s %s %s", s.measureText(e), word, quantity.Text(lim.value, dimension(e.Quantity)))
}

// alternative gives the value of a key or of its other spelling.
func (s *planBuilder) alternative(o *object, key, other string) value {
	a, b := o.get(key), o.get(other)
	if a.given && b.given {
		s.l.report(harness.Problem{Place: b.at, Found: fmt.Sprintf("both %q and %q", key, other), Wanted: "one of the two", Hint: "they mean the same"})
	}
	if b.given {
		return b
	}
	return a
}

func (s *planBuilder) once(o *object, e *harness.Expectation) {
	e.Output, e.Bay = s.output(o.get("once"))
	e.Text = e.Output.Name + " fires at most once"
}

func (s *planBuilder) pulse(o *object, e *harness.Expectation) {
	e.Output, e.Bay = s.output(o.get("pulse"))
	e.Text = e.Output.Name + " pulse lasts" + s.bounds(o, e, seconds(0, 3600))
}

func (s *planBuilder) order(o *object, e *harness.Expectation) {
	if l := o.get("order").list(); len(l) == 2 {
		e.Output, e.Bay = s.output(l[0])
		e.Then, _ = s.output(l[1])
		if e.Output == e.Then && e.Output.Name != "" {
			s.l.report(harness.Problem{Place: l[1].at, Found: e.Then.Name + " twice", Wanted: "two outputs"})
		}
	}
	gap := o.get("at_least")
	e.Least, e.HasLeast = gap.num(), gap.ok()
	e.Text = fmt.Sprintf("%s fires before %s", e.Output.Name, e.Then.Name)
	if e.HasLeast {
		e.Text += ", at least " + quantity.Text(e.Least, quantity.Time) + " apart"
	}
}

func (s *planBuilder) atFiring(o *object, e *harness.Expectation) {
	e.Output, e.Bay = s.output(o.get("firing"))
	stage := 0
	if e.Bay >= 0 && e.Bay < len(s.plan.Setup.Bays) {
		stage = s.plan.Setup.Bays[e.Bay].Stage
	}
	s.quantity(o, e, stage, "when "+e.Output.Name+" fires")
}

func (s *planBuilder) atEvent(o *object, e *harness.Expectation) {
	e.Event = s.event(o.get("event"))
	s.quantity(o, e, 0, "at "+e.Event)
}

// quantity reads a measurand with its bounds.
func (s *planBuilder) quantity(o *object, e *harness.Expectation, stage int, when string) {
	v := o.get("quantity")
	m, ok := v.x.(measurand)
	if !ok {
		return
	}
	e.Stage, e.Quantity = s.c.measurand(s.l, v.at, m, stage)
	dim := dimension(e.Quantity)
	e.Text = s.measureText(e) + s.bounds(o, e, quantityShape{dim, -1e6, 1e6}) + " " + when
}

func (s *planBuilder) measureText(e *harness.Expectation) string {
	if e.Stage < 0 || e.Stage >= len(s.c.stages) {
		return e.Quantity.String()
	}
	return s.c.stages[e.Stage] + " " + e.Quantity.String()
}

// bounds reads at_least and at_most and gives their text.
func (s *planBuilder) bounds(o *object, e *harness.Expectation, q quantityShape) string {
	least, most := o.get("at_least"), o.get("at_most")
	e.Least, e.HasLeast = s.l.amount(least, q)
	e.Most, e.HasMost = s.l.amount(most, q)
	if !least.given && !most.given {
		s.l.report(harness.Problem{Place: o.at, Found: o.kind + " without a bound", Wanted: "at_least, at_most or both"})
	}
	if e.HasLeast && e.HasMost && e.Least > e.Most {
		s.l.report(harness.Problem{Place: most.at, Found: "at_most " + quantity.Text(e.Most, q.dim), Wanted: "no less than at_least, " + quantity.Text(e.Least, q.dim)})
	}
	switch a, b := quantity.Text(e.Least, q.dim), quantity.Text(e.Most, q.dim); {
	case e.HasLeast && e.HasMost:
		return " from " + a + " to " + b
	case e.HasLeast:
		return " at least " + a
	default:
		return " at most " + b
	}
}

func (s *planBuilder) reports(o *object, e *harness.Expectation) {
	b, within, word := o.get("board"), o.get("within"), o.get("report").text()
	e.Bay = s.bay(b.at, b.text())
	if e.Bay >= 0 && s.silent[e.Bay] {
		s.l.report(harness.Problem{Place: b.at, Found: "a report of " + b.text() + ", whose board's file says `reports: none`", Wanted: "a board that reports", Hint: "leave this expectation out, or fly it with another board's file"})
	}
	e.Report = harness.ReportKind(1 + slices.Index(reportWords, word))
	dim := quantity.Length
	if e.Report == harness.ReportedSpeed {
		dim = quantity.Speed
	}
	e.Most, e.HasMost = s.l.amount(within, quantityShape{dim, 0, 100000})
	e.Text = fmt.Sprintf("%s reports the %s within %s", b.text(), strings.ReplaceAll(word, "_", " "), quantity.Text(e.Most, dim))
	from, to := o.get("from"), o.get("to")
	if e.Report == harness.ApogeeHeight {
		for _, v := range []value{from, to} {
			if v.given {
				s.l.report(harness.Problem{Place: v.at, Found: "a window of apogee_height", Wanted: "none: the last report counts", Hint: "`report: height` has a window"})
			}
		}
		return
	}
	s.window(from, to, e)
	if e.HasFrom {
		e.Text += " from " + e.From.String()
	}
	if e.HasTo {
		e.Text += " to " + e.To.String()
	}
}

func (s *planBuilder) alive(o *object, e *harness.Expectation) {
	v := o.get("alive")
	e.Bay = s.bay(v.at, v.text())
	e.Text = v.text() + " stays alive"
}

// answers reports `answers: true` for an output that has no effect on the vehicle.
func (s *planBuilder) answers(v value, e *harness.Expectation) {
	if e.Output.Name == "" {
		return
	}
	for _, w := range s.plan.Setup.Bays[e.Bay].Wires {
		if w.Channel == e.Output.Channel && w.Effect.Kind == sim.Nothing {
			s.l.report(harness.Problem{Place: v.at, Found: "answers: true for " + e.Output.Name + ", which does nothing to the vehicle", Wanted: "an output that ignites, deploys or separates"})
		}
	}
}

// happens reads an event that must happen.
func (s *planBuilder) happens(o *object, e *harness.Expectation) {
	e.Event = s.event(o.get("happens"))
	s.window(o.get("from"), o.get("to"), e)
	e.Text = e.Event + " happens"
	if e.HasFrom {
		e.Text += " from " + e.From.String()
	}
	if e.HasTo {
		e.Text += " to " + e.To.String()
	}
}

// reaction reads an output that must follow its cause.
func (s *planBuilder) reaction(o *object, e *harness.Expectation) {
	e.Output, e.Bay = s.output(o.get("reaction"))
	e.Event = s.event(o.get("after"))
	within := o.get("within")
	e.Most, e.HasMost = within.num(), within.ok()
	e.Off = o.get("goes").text() == "off"
	e.Text = fmt.Sprintf("%s switches %s within %s after %s", e.Output.Name, map[bool]string{false: "on", true: "off"}[e.Off], quantity.Text(e.Most, quantity.Time), e.Event)
}

// event reads an event without a span.
func (s *planBuilder) event(at value) string {
	a, _ := s.c.anchor(s.l, at)
	if a.Offset != 0 {
		s.l.report(harness.Problem{Place: at.at, Found: a.String(), Wanted: "an event without a span"})
	}
	return a.Event
}

// output finds BOARD.OUTPUT.
func (s *planBuilder) output(v value) (ch harness.Channel, bay int) {
	board, name, _ := strings.Cut(v.text(), ".")
	if !v.ok() {
		return ch, 0
	}
	bay = s.bay(v.at, board)
	if bay < 0 || !s.outputsKnown[bay] {
		return ch, max(bay, 0)
	}
	var names []string
	for _, w := range s.plan.Setup.Bays[bay].Wires {
		if w.Name == name {
			return harness.Channel{Bay: bay, Channel: w.Channel, Name: v.text()}, bay
		}
		names = append(names, w.Name)
	}
	hint := nearest(name, names)
	if hint == "" {
		hint = "it has " + choices(names)
	}
	s.l.report(harness.Problem{Place: v.at, Found: "unknown output " + quote(v.text()), Wanted: "an output of board " + board, Hint: hint})
	return ch, bay
}
