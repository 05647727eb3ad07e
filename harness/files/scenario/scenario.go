// Package scenario reads the files of a test: scenario, vehicle, motors and boards. Load gives a
// Plan with every unit resolved and every default filled in, or all problems of all files at once,
// each with file:line:column, what was found, what was wanted and the nearest right spelling.
//
// One table of keys for each kind of file is the source for reading it, for its messages and for its
// JSON Schema. The package never guesses a unit, never runs anything that a file names, and opens
// only files that a scenario refers to, through the fs.FS it is given.
package scenario

import (
	"io/fs"
	"path"
	"slices"
	"strings"

	"drystage/harness"
	"drystage/harness/vary"
	"drystage/sim"
)

// Load reads a scenario with all files it refers to. Any problem means that there is no plan; all
// problems come at once, in order of the files as first read, then of their place.
func Load(fsys fs.FS, name string) (harness.Plan, []harness.Problem) {
	l := &loader{fsys: fsys}
	plan := l.scenario(path.Clean(name))
	if len(l.problems) > 0 {
		return harness.Plan{}, l.sorted()
	}
	plan.Digest, plan.Files = l.digest(), l.filesRead()
	return plan, nil
}

// Again makes a plan of the files that one was made of, as the plan has kept them: the plan as they tell it,
// which is the one that kept them, unless somebody changed either. name is Plan.File.
func Again(files []harness.File, name string) (harness.Plan, []harness.Problem) {
	return Load(keptFiles(files), name)
}

// LoadVehicle reads a vehicle with its motors, and gives with it the crossings that its own anchors speak
// of: a Setup without them has no such events. Any problem means that there is no vehicle.
func LoadVehicle(fsys fs.FS, name string) (sim.Vehicle, []sim.Crossing, []harness.Problem) {
	l := &loader{fsys: fsys}
	v, c, _ := l.vehicle(l.read(path.Clean(name), harness.Place{}))
	if len(l.problems) > 0 {
		return sim.Vehicle{}, nil, l.sorted()
	}
	return v, c.crossings, nil
}

// Lint checks a file of any kind, with all files it refers to. A .csv is a motor; of the others, the
// first key tells the kind.
func Lint(fsys fs.FS, name string) []harness.Problem {
	problems, _ := Check(fsys, name)
	return problems
}

// Check is Lint that also names the files that were read.
func Check(fsys fs.FS, name string) (problems []harness.Problem, read []string) {
	l := &loader{fsys: fsys}
	name = path.Clean(name)
	f := l.read(name, harness.Place{})
	switch {
	case !f.good:
	case isMotor(name):
		l.motor(f)
	default:
		l.lint(f)
	}
	for _, f := range l.files {
		read = append(read, f.name)
	}
	return l.sorted(), read
}

func (l *loader) lint(f *file) {
	kind := ""
	if f.root != nil && len(f.root.keys) > 0 && f.root.keys[0].text == kindKey {
		kind = f.root.items[0].text
	}
	switch kind {
	case "vehicle":
		l.vehicle(f)
	case "board":
		l.board(f)
	case "scenario":
		l.scenario(f.name)
	case "rig":
		l.rig(f)
	case "settings":
		l.settingList(f)
	case "wiring":
		l.wiring(f)
	case "project":
		l.project(f)
	default:
		l.ofKind(f, yamlKinds()...)
	}
}

// ofKind checks that a file is of one of these kinds and gives its block; nil when it is not.
func (l *loader) ofKind(f *file, kinds ...string) *node {
	n := f.root
	if n == nil {
		return nil
	}
	want := "`drystage: " + choices(kinds) + "` as the first key"
	if len(n.keys) == 0 || n.keys[0].text != kindKey {
		found := n.found()
		if len(n.keys) > 0 {
			found = "first key " + quote(n.keys[0].text)
		}
		hint := ""
		if len(n.keys) > 0 && n.value(kindKey) == nil {
			hint = nearest(n.keys[0].text, []string{kindKey})
		}
		l.report(harness.Problem{Place: n.at, Found: found, Wanted: want, Hint: hint})
		return nil
	}
	if kind := n.items[0]; kind.kind != scalar || !slices.Contains(kinds, kind.text) {
		l.report(harness.Problem{Place: kind.at, Found: "drystage: " + kind.found(), Wanted: want, Hint: nearest(kind.text, kinds)})
		return nil
	}
	return n
}

// planBuilder builds a Plan from the keys of a scenario.
type planBuilder struct {
	l            *loader
	c            *eventCatalogue
	plan         harness.Plan
	roles        []string
	outputsKnown []bool   // by bay: its board's file could be read
	silent       []bool   // by bay: its board's file says that it reports nothing
	leftOut      []string // names of faults
}

func (l *loader) scenario(file string) harness.Plan {
	if s := l.builder(file); s != nil {
		return s.plan
	}
	return harness.Plan{}
}

// builder reads a scenario and builds its plan; nil when the file can't be read at all.
func (l *loader) builder(file string) *planBuilder {
	o := l.like(file, harness.Place{}, nil)
	if o == nil {
		return nil
	}
	scenarioTable.complete(l, o)
	s := &planBuilder{l: l}
	s.plan = harness.Plan{Name: strings.TrimSuffix(path.Base(file), path.Ext(file)), File: file}
	ref := o.get("vehicle")
	name, ok := l.resolve(ref)
	if !ok {
		return s
	}
	if s.plan.Setup.Vehicle, s.c, ok = l.vehicle(l.read(name, ref.at)); !ok {
		return s
	}
	s.setup(o)
	return s
}

// like reads a scenario and takes the keys that it doesn't give from the one it is like. chain holds
// the files on the way here.
func (l *loader) like(file string, from harness.Place, chain []string) *object {
	f := l.read(file, from)
	n := l.ofKind(f, "scenario")
	if n == nil {
		return nil
	}
	o := scenarioTable.fields(l, n)
	v := o.get("like")
	name, ok := l.resolve(v)
	if _, given := o.vals["like"]; !ok && given {
		return nil // what it would have given is not missing here
	} else if !ok {
		return o
	}
	chain = append(chain, file)
	if slices.Contains(chain, name) {
		l.report(harness.Problem{Place: v.at, Found: "like: " + quote(v.text()) + ", which leads back here", Wanted: "a scenario that is not like this one", Hint: "the way was " + strings.Join(append(chain, name), ", ")})
		return nil
	}
	parent := l.like(name, v.at, chain)
	if parent == nil {
		return nil
	}
	for _, r := range scenarioTable.rows {
		_, given := o.vals[r.key]
		if x, there := parent.vals[r.key]; there && !given {
			o.vals[r.key] = x
		}
	}
	return o
}

// setup fills in all of the plan but the vehicle, which is there already.
func (s *planBuilder) setup(o *object) {
	set := &s.plan.Setup
	o.fill(&s.plan)
	s.c.launch = set.Launch
	set.Wind = s.l.wind(o.get("weather").object().get("wind").object())
	s.pad(o.get("pad").object())
	s.boards(o.get("boards"))
	s.actions(o.get("commands"))
	s.commands(o.get("commands"))
	set.Faults = s.faults(o.get("faults"))
	s.end(o)
	s.commandsAfterEnd(o.get("commands"), o.get("until"))
	s.plan.Expect = s.expectations(o.get("expect"))
	s.plan.Accepts = s.accepted(o.get("accepts"))
	set.Crossings, set.Marks = s.c.crossings, s.c.marks
	s.log(o.get("log"))
	s.without(o)
	s.vary(o)
	s.plan = vary.Without(&s.plan, s.leftOut)
}

// boards reads every board's file and puts it into its stage, in the order of the scenario.
func (s *planBuilder) boards(v value) {
	for _, e := range v.entries() {
		use := e.val.object()
		bay := sim.Bay{Name: e.name, Stage: s.stageOf(e)}
		board := harness.Board{Role: e.name}
		var o *object
		if name, ok := s.l.resolve(use.get("file")); ok {
			o = s.l.board(s.l.read(name, use.get("file").at))
		}
		if o != nil {
			b := boardFile{bay, board}
			o.fill(&b)
			bay, board = b.bay, b.board
			bay.Sensors, board.NMEA = sensors(bay.Sensors), nmeaInput(o)
			if board.NMEA.Rate > 0 && !bay.Sensors.GNSS.Ellipsoid {
				board.NMEA.Geoid = s.plan.Setup.Vehicle.Site.Geoid
			}
			s.l.within(o.get("station"), s.plan.Setup.Vehicle.Stages[max(bay.Stage, 0)].Length, "the sensors")
			s.l.effects(o, bay.Wires, s.c, &s.plan.Setup.Vehicle)
			book := s.l.boardSettings(o)
			board.Settings = s.l.settings(&book, use.get("settings"), s.l.settings(&book, o.get("settings"), nil))
		}
		s.roles = append(s.roles, e.name)
		s.outputsKnown = append(s.outputsKnown, o != nil && o.get("outputs").ok())
		s.silent = append(s.silent, o.get("reports").text() == "none")
		s.plan.Setup.Bays = append(s.plan.Setup.Bays, bay)
		s.plan.Boards = append(s.plan.Boards, board)
	}
}

// actions lists the outputs and commands that anchors may name.
func (s *planBuilder) actions(commands value) {
	for i, b := range s.plan.Setup.Bays {
		s.c.unknown = s.c.unknown || !s.outputsKnown[i]
		for _, w := range b.Wires {
			s.c.actions = append(s.c.actions, sim.Mark{Name: "output " + b.Name + "." + w.Name, Bay: i, Channel: w.Channel})
		}
	}
	for bit, word := range commandWord {
		for _, o := range commands.objects() {
			if o.get("give").text() == word {
				s.c.actions = append(s.c.actions, sim.Mark{Name: "command " + word, Command: 1 << bit})
				break
			}
		}
	}
}

// stageOf gives the stage that carries a board.
func (s *planBuilder) stageOf(e entry) int {
	v := e.val.object().get("stage")
	switch {
	case v.ok():
		return s.c.stage(s.l, v.at, v.text())
	case v.given || e.val.object() == nil:
		return 0
	}
	i := slices.Index(s.c.stages, e.name)
	if i < 0 {
		s.l.report(harness.Problem{Place: e.at, Found: "board " + quote(e.name) + " without \"stage\"", Wanted: "stage: " + choices(s.c.stages)})
	}
	return i
}

// bay gives the index of a board; it reports and gives -1 when there is none of that role.
func (s *planBuilder) bay(at harness.Place, role string) int {
	if role == "" {
		return -1
	}
	i := slices.Index(s.roles, role)
	if i < 0 && len(s.roles) > 0 {
		s.l.report(harness.Problem{Place: at, Found: "unknown board " + quote(role), Wanted: "a board of the scenario: " + choices(s.roles), Hint: nearest(role, s.roles)})
	}
	return i
}

func (s *planBuilder) commands(v value) {
	for _, o := range v.objects() {
		c := sim.Command{At: s.forwardAnchor(o.get("at"), false), Bay: -1, What: 1 << commandWord.index(o.get("give"))}
		if to := o.get("to"); to.ok() {
			c.Bay = s.bay(to.at, to.text())
		}
		s.plan.Setup.Commands = append(s.plan.Setup.Commands, c)
	}
}

// forwardAnchor gives an anchor of something that has to happen during the flight, when later events are not known
// yet. A time before the launch is counted from the start. Other times before an event are reported, unless a
// rehearsal can tell them.
func (s *planBuilder) forwardAnchor(v value, rehearsed bool) sim.Anchor {
	a, ok := s.c.anchor(s.l, v)
	if !ok {
		return a
	}
	if t, known := s.c.known(a); known && a.Offset < 0 {
		return sim.Anchor{Event: sim.EventStart, Offset: t}
	}
	if a.Event == sim.EventLaunch && s.c.launch == 0 {
		return a // the launch itself is wrong, which was reported
	}
	switch {
	case a.Event == sim.EventMaxQ && a.Offset >= 0:
		s.l.report(harness.Problem{Place: v.at, Found: a.String(), Wanted: "an event that is known when it happens", Hint: "max_q shows only afterwards; a time before it, such as max_q - 1 ms, is taken from a rehearsal"})
	case a.Offset < 0 && slices.ContainsFunc(s.c.actions, func(m sim.Mark) bool { return m.Name == a.Event }):
		s.l.report(harness.Problem{Place: v.at, Found: a.String(), Wanted: "a span after it", Hint: "a rehearsal knows no boards and no operator"})
	case a.Offset < 0 && !rehearsed:
		s.l.report(harness.Problem{Place: v.at, Found: a.String(), Wanted: "an event and a span after it", Hint: "an operator can't know what is still to come"})
	}
	return a
}

// end reads when the run is over, and reports a limit that comes before.
func (s *planBuilder) end(o *object) {
	set := &s.plan.Setup
	until, limit := o.get("until"), o.get("limit")
	set.Until, _ = s.c.anchor(s.l, until)
	if set.Launch >= set.Limit && limit.ok() {
		at := limit.at
		if !limit.given {
			at = o.get("launch").at
		}
		s.l.report(harness.Problem{Place: at, Found: "launch at " + set.Launch.String() + " and limit " + set.Limit.String(), Wanted: "a limit after the launch"})
	}
	if t, known := s.c.known(set.Until); known && t > set.Limit && limit.ok() && until.ok() {
		s.l.report(harness.Problem{Place: until.at, Found: "until " + set.Until.String(), Wanted: "a time before limit, " + set.Limit.String()})
	}
}
