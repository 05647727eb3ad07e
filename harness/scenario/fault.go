package scenario

import (
	"fmt"
	"slices"
	"strings"

	"drystage/harness"
	"drystage/sim"
)

var partTarget = name{[]string{"BOARD", "PART"}, nameLetters}

// faultShape has a table for each kind of fault, in the order of sim.FaultKinds.
var faultShape = &variants{"a fault", []*table{
	sensorFault(sim.Spike, "a half-sine bump of height `by`", byRow, row{key: "for", is: faultSpan, need: true, doc: "how long it lasts"}),
	sensorFault(sim.Step, "`by` is added", byRow, forRow),
	sensorFault(sim.Stuck, "the part repeats its last value", forRow),
	sensorFault(sim.Dropout, "no samples", forRow),
	sensorFault(sim.Drift, "`by` per second is added, growing from 0", byRow, forRow),
	sensorFault(sim.NoiseBurst, "noise of standard deviation `by` is added", byRow, forRow),
	stageFault(sim.DeadIgniter, "an output that fires meanwhile lights nothing", fromRow, forRow),
	stageFault(sim.LateIgniter, "the motor lights `by` later than it should", fromRow, forRow,
		row{key: "by", is: seconds(0, 60), need: true, doc: "how much later"}),
	stageFault(sim.EarlyBurnout, "the motor dies", row{key: "from", is: anchor{}, need: true, doc: "when it dies"}),
	{name: "a power_cut", doc: "The board's supply is off.", rows: []row{
		{key: sim.PowerCut.String(), is: name{[]string{"BOARD"}, nameLetters}, need: true, doc: "the board"},
		{key: "from", is: anchor{}, need: true, doc: "when it begins"},
		forRow,
	}},
}}

var (
	faultSpan = seconds(1e-6, 3600)
	fromRow   = row{key: "from", is: anchor{}, def: sim.EventStart, doc: "when it begins"}
	forRow    = row{key: "for", is: faultSpan, doc: "how long it lasts; default to the end"}
	byRow     = row{key: "by", is: amount{}, need: true, doc: "how much, in a unit of the part; drift per second"}
)

func sensorFault(k sim.FaultKind, doc string, rows ...row) *table {
	return &table{name: "a " + k.String(), doc: "Sensor fault: " + doc + ".", rows: append([]row{
		{key: k.String(), is: partTarget, need: true, doc: "the board's part: " + choices(sim.PartNames())},
		{key: "axis", is: words(sim.AxisNames()), def: "all", doc: "of a part with three axes; z of gnss is the height"},
		fromRow,
	}, rows...)}
}

func stageFault(k sim.FaultKind, doc string, rows ...row) *table {
	return &table{name: "an " + k.String(), doc: "Vehicle fault: " + doc + ".", rows: append([]row{
		{key: k.String(), is: stageWord, need: true, doc: "the stage"},
		{key: "motor", is: number{1, sim.MaxCluster, true}, doc: "of a cluster: which motor, counted from 1; default all of them"},
	}, rows...)}
}

// faults builds all faults of a scenario.
func (s *script) faults(v value) []sim.Fault {
	var out []sim.Fault
	for _, o := range v.objects() {
		f := sim.Fault{Kind: sim.FaultKind(1 + slices.Index(sim.FaultKinds(), o.kind))}
		if o.kind == "" {
			continue
		}
		f.From = s.forwards(o.get("from"), true)
		f.Duration = o.get("for").time()
		target := o.get(o.kind)
		switch {
		case !target.ok():
		case f.Kind.Layer() == sim.OnSensor:
			s.sensorFault(o, target, &f)
		case f.Kind.Layer() == sim.OnPower:
			f.Bay = s.bay(target.at, target.text())
		default:
			f.Stage = s.motor(target)
			f.Value = o.get("by").num()
			f.Motor = s.ofCluster(o.get("motor"), f.Stage)
		}
		out = append(out, f)
	}
	return out
}

// motor gives the stage whose motor is named.
func (s *script) motor(v value) int {
	i := s.c.stage(s.l, v.at, v.text())
	if i >= 0 && !s.c.motors[i] {
		s.l.report(harness.Problem{Place: v.at, Found: "stage " + quote(v.text()) + ", which has no motor", Wanted: "a stage with a motor"})
	}
	return i
}

// ofCluster gives the motor of a cluster that a fault names; 0 for all.
func (s *script) ofCluster(v value, stage int) int {
	if v.ok() && stage >= 0 && stage < len(s.plan.Setup.Vehicle.Stages) {
		if has := s.plan.Setup.Vehicle.Stages[stage].Mount.Motors(); int(v.num()) > has {
			s.l.report(harness.Problem{Place: v.at, Found: fmt.Sprintf("motor %d", int(v.num())), Wanted: fmt.Sprintf("one from 1 to %d", has), Hint: "the stage's motor has no more in its cluster"})
		}
	}
	return int(v.num())
}

func (s *script) sensorFault(o *object, target value, f *sim.Fault) {
	board, word, _ := strings.Cut(target.text(), ".")
	i := slices.Index(sim.PartNames(), word)
	if i < 0 {
		s.l.report(harness.Problem{Place: target.at, Found: "unknown part " + quote(word), Wanted: choices(sim.PartNames()), Hint: nearest(word, sim.PartNames())})
		return
	}
	f.Part = sim.Part(i + 1)
	if f.Bay = s.bay(target.at, board); f.Bay >= 0 && s.wired[f.Bay] && !fitted(&s.plan.Setup.Bays[f.Bay].Sensors, f.Part) {
		s.l.report(harness.Problem{Place: target.at, Found: "a fault of " + quote(target.text()), Wanted: "a part that the board has", Hint: "its file names no " + word})
	}
	p := parts[f.Part]
	axis := o.get("axis")
	f.Axis = sim.Axis(words(sim.AxisNames()).index(axis))
	if axis.given && f.Axis != sim.AllAxes && !p.axes {
		s.l.report(harness.Problem{Place: axis.at, Found: "axis " + axis.text(), Wanted: "no axis", Hint: fmt.Sprintf("a %s has no axes", word)})
	}
	dim, least := p.dim, -p.most
	switch f.Kind {
	case sim.Drift:
		dim = p.rate
	case sim.NoiseBurst:
		least = 0
	}
	f.Value, _ = s.l.amount(o.get("by"), qty{dim, least, p.most})
}
