package files

import (
	"strings"

	"drystage/sim"
	"drystage/sim/quantity"
)

var partDims = [...]quantity.Dimension{
	sim.PartAccel: quantity.Acceleration, sim.PartGyro: quantity.AngularRate, sim.PartBaro: quantity.Pressure,
	sim.PartGNSS: quantity.Length, sim.PartBattery: quantity.Voltage,
}

var partRates = [...]quantity.Dimension{
	sim.PartAccel: quantity.Jerk, sim.PartGyro: quantity.AngularAcceleration, sim.PartBaro: quantity.PressureRate,
	sim.PartGNSS: quantity.Speed, sim.PartBattery: quantity.VoltageRate,
}

func sensorFault(kind sim.FaultKind, doc string, more ...field) *block {
	return &block{doc, append([]field{
		{key: kind.String(), form: asText, need: true, doc: "BOARD.PART, such as sustainer.accelerometer"},
		{key: "axis", form: asWord, words: sim.AxisNames(), doc: "of a three-axis part; all is the default; for gnss: x east, y north, z height"},
		{key: "from", form: asAnchor, need: true, doc: "when it begins"},
		spell("for", 3600, kind == sim.Spike, "how long it lasts; left away: to the end"),
	}, more...)}
}

func size(doc string) field { return field{key: "by", form: asLater, need: true, doc: doc} }

var faultBlocks = []*block{
	sensorFault(sim.Spike, "a half-sine bump on a sensor", size("its height")),
	sensorFault(sim.Step, "a constant error of a sensor", size("what is added")),
	sensorFault(sim.Stuck, "a sensor repeats its last value"),
	sensorFault(sim.Dropout, "a sensor gives nothing"),
	sensorFault(sim.Drift, "an error of a sensor that grows from nothing", size("growth per second")),
	sensorFault(sim.NoiseBurst, "noise on a sensor", size("one standard deviation")),
	{"an igniter that lights nothing", []field{
		{key: sim.DeadIgniter.String(), form: asText, need: true, doc: "STAGE"},
		{key: "from", form: asAnchor, doc: "when it begins; left away: at the start"},
		spell("for", 3600, false, "how long it lasts; left away: to the end"),
	}},
	{"an igniter that lights late", []field{
		{key: sim.LateIgniter.String(), form: asText, need: true, doc: "STAGE"},
		{key: "from", form: asAnchor, doc: "when it begins; left away: at the start"},
		spell("for", 3600, false, "how long it lasts; left away: to the end"),
		spell("by", 60, true, "how much later"),
	}},
	{"a motor that dies early", []field{
		{key: sim.EarlyBurnout.String(), form: asText, need: true, doc: "STAGE"},
		{key: "from", form: asAnchor, need: true, doc: "when it dies"},
	}},
	{"the supply of a board fails", []field{
		{key: sim.PowerCut.String(), form: asText, need: true, doc: "BOARD"},
		{key: "from", form: asAnchor, need: true, doc: "when it fails"},
		spell("for", 3600, true, "how long it is off"),
	}},
}

// fault reads one fault; which kind it is, its block's first field tells.
func (r *reader) fault(t *values, s *scene) (f sim.Fault, ok bool) {
	word := t.block.fields[0].key
	for i, k := range sim.FaultKinds() {
		if k == word {
			f.Kind = sim.FaultKind(i + 1)
		}
	}
	if !t.has(word) {
		return f, false
	}
	f.From, _ = r.anchorOf(t, "from", s)
	f.Duration = t.time("for")
	if f.From.Event == sim.EventMaxQ {
		r.found(t.place("from"), "a fault at max_q", "an event that is known when it happens", "max_q is known only afterwards")
	}
	for i, a := range sim.AxisNames() {
		if t.text("axis") == a {
			f.Axis = sim.Axis(i)
		}
	}
	n := t.by[word].n
	switch f.Kind.Layer() {
	case sim.OnVehicle:
		f.Stage, ok = r.stageNamed(n, n.text, s.vehicle)
		f.Value = t.num("by")
		if ok && len(s.vehicle.Stages[f.Stage].Mount.Motor.Thrust) == 0 {
			r.found(n.at, quote(n.text), "a stage with a motor", "")
		}
	case sim.OnPower:
		f.Bay, ok = r.role(n, n.text, s)
	default:
		ok = r.sensorTarget(t, n, &f, s)
	}
	return f, ok
}

func (r *reader) sensorTarget(t *values, n *node, f *sim.Fault, s *scene) (ok bool) {
	role, part, _ := strings.Cut(n.text, ".")
	if f.Bay, ok = r.role(n, role, s); !ok {
		return false
	}
	for i, w := range sim.PartNames() {
		if w == part {
			f.Part = sim.Part(i + 1)
		}
	}
	if f.Part == sim.NoPart {
		r.found(n.at, "the unknown sensor "+quote(part), "BOARD.PART with one of "+oneOf(sim.PartNames()), near(part, sim.PartNames()))
		return false
	}
	if !fitted(&s.bays[f.Bay].Sensors, f.Part) {
		r.found(n.at, quote(n.text)+", which this board does not have", "a sensor in its board file", "")
		return false
	}
	if t.has("axis") && (f.Part == sim.PartBaro || f.Part == sim.PartBattery) {
		r.found(t.place("axis"), "an axis of the "+part, "no `axis` here", "it has only one value")
	}
	if by, written := t.by["by"]; written {
		d := partDims[f.Part]
		if f.Kind == sim.Drift {
			d = partRates[f.Part]
		}
		f.Value, ok = r.quantity(by.n, d, -1e6, 1e6)
	}
	return ok
}

func fitted(s *sim.Sensors, p sim.Part) bool {
	return [...]float64{0, s.Accel.Rate, s.Gyro.Rate, s.Baro.Rate, s.GNSS.Rate, s.Battery.Rate}[p] > 0
}

// role finds a board of the scenario by its role.
func (r *reader) role(n *node, name string, s *scene) (int, bool) {
	var names []string
	for i := range s.bays {
		if names = append(names, s.bays[i].Name); s.bays[i].Name == name {
			return i, true
		}
	}
	r.found(n.at, "the unknown board "+quote(name), "a board of this scenario: "+orNone(names), near(name, names))
	return 0, false
}
