package files

import (
	"fmt"
	"strings"

	"gonum.org/v1/gonum/spatial/r3"

	"drystage/harness"
	"drystage/sim"
	"drystage/sim/quantity"
)

func rate(most float64) field {
	return field{key: "rate", form: asQuantity, dim: quantity.Frequency, least: 0.1, most: most, need: true, doc: "samples a second"}
}

func amount(key string, d quantity.Dimension, least, most float64, doc string) field {
	return field{key: key, form: asQuantity, dim: d, least: least, most: most, doc: doc}
}

func triad(doc string, d quantity.Dimension, most float64) *block {
	return &block{doc, []field{
		rate(4000),
		{key: "range", form: asQuantity, dim: d, least: most / 1e5, most: most, need: true, doc: "clips at plus and minus this"},
		amount("resolution", d, 0, most/10, "step of the output; 0 or left away: none"),
		amount("noise", d, 0, most/10, "one standard deviation of each sample and axis"),
		{key: "bias", form: asTriple, dim: d, least: -most / 10, most: most / 10, doc: "of each axis of the part"},
		{key: "mounting", form: asText, doc: "where the part's axes point: two or three of x|y|z up|down|left|right|front|back, seen facing the rocket on its pad; left away: x up y left"},
	}}
}

var sensorsBlock = block{"the parts on the board; one that is left away is not fitted", []field{
	{key: "accelerometer", form: asBlock, block: triad("three-axis accelerometer", quantity.Acceleration, 1e4), doc: "specific force"},
	{key: "gyro", form: asBlock, block: triad("three-axis gyro", quantity.AngularRate, 200), doc: "angular rate"},
	{key: "barometer", form: asBlock, block: &block{"barometer", []field{
		rate(1000),
		amount("min", quantity.Pressure, 0, 2e5, "clips there"),
		amount("max", quantity.Pressure, 0, 2e5, "clips there"),
		amount("resolution", quantity.Pressure, 0, 1e4, "step of the output"),
		amount("noise", quantity.Pressure, 0, 1e4, "one standard deviation"),
		amount("bias", quantity.Pressure, -1e4, 1e4, "constant error"),
	}}, doc: "static pressure"},
	{key: "gnss", form: asBlock, block: &block{"GNSS receiver", []field{
		rate(50),
		amount("position_noise", quantity.Length, 0, 1000, "one standard deviation, each horizontal axis"),
		amount("height_noise", quantity.Length, 0, 1000, "one standard deviation"),
		amount("velocity_noise", quantity.Speed, 0, 100, "one standard deviation, each axis"),
	}}, doc: "position and velocity"},
	{key: "battery", form: asBlock, block: &block{"battery and its measurement", []field{
		rate(200),
		{key: "voltage", form: asQuantity, dim: quantity.Voltage, least: 0.5, most: 60, need: true, doc: "fresh and without load"},
		amount("sag", quantity.Voltage, 0, 60, "lost over an hour on the bench"),
		amount("noise", quantity.Voltage, 0, 5, "one standard deviation"),
		amount("resolution", quantity.Voltage, 0, 5, "step of the output"),
	}}, doc: "supply voltage"},
}}

var outputBlock = block{"an output channel and what it does", []field{
	{key: "channel", form: asWhole, least: 1, most: 16, need: true, doc: "as the board numbers it"},
	{key: "name", form: asText, need: true, doc: "as in BOARD.NAME"},
	{key: "does", form: asText, need: true, doc: "ignite STAGE, separate STAGE, deploy STAGE.DEVICE, or nothing"},
}}

var linkBlock = block{"the line to the board", []field{
	{key: "baud", form: asWhole, least: 300, most: 4000000, doc: "of its serial port"},
	{key: "lockstep", form: asFlag, doc: "the harness can drive the board's clock"},
}}

var boardBlock = block{"a flight computer: its sensors, its outputs, its own settings", []field{
	kindField("board"),
	{key: "name", form: asText, need: true, doc: "of the board"},
	length("station", 20, true, "of the sensors, aft of the stage's front end"),
	{key: "sensors", form: asBlock, block: &sensorsBlock, need: true, doc: "the parts on the board"},
	{key: "outputs", form: asBlocks, block: &outputBlock, need: true, doc: "output channels"},
	{key: "link", form: asBlock, block: &linkBlock, doc: "the line to the board"},
	spell("boot", 30, false, "from power to the board's first word"),
	{key: "settings", form: asSettings, doc: "the board's own settings, sent to it after the handshake"},
}}

// board reads a board file for a role on a stage of a vehicle.
func (r *reader) board(name string, at harness.Place, v *sim.Vehicle) (bay sim.Bay, b harness.Board, ok bool) {
	n := r.yamlFile(name, "board", at)
	if n == nil {
		return bay, b, false
	}
	t := r.take(n, &boardBlock)
	bay = sim.Bay{Station: t.num("station"), Boot: t.time("boot"), Sensors: r.sensors(t.sub("sensors"))}
	for _, o := range t.list("outputs") {
		w := sim.Wire{Channel: int(o.num("channel")), Name: o.text("name")}
		r.uniqueName(o, func(name string) bool { return wired(bay.Wires, func(x sim.Wire) bool { return x.Name == name }) })
		if o.has("channel") && wired(bay.Wires, func(x sim.Wire) bool { return x.Channel == w.Channel }) {
			r.found(o.place("channel"), fmt.Sprintf("channel %d a second time", w.Channel), "each channel once", "")
		}
		if o.has("does") {
			w.Effect, _ = r.effect(o.by["does"].n, v)
		}
		bay.Wires = append(bay.Wires, w)
	}
	link := t.sub("link")
	b = harness.Board{Baud: int(link.or("baud", 115200)), Lockstep: link.text("lockstep") != "false"}
	settings := t.sub("settings")
	for _, name := range settings.names {
		b.Settings = append(b.Settings, harness.Setting{Name: name, Value: settings.num(name)})
	}
	return bay, b, true
}

func wired(ws []sim.Wire, is func(sim.Wire) bool) bool {
	for _, w := range ws {
		if is(w) {
			return true
		}
	}
	return false
}

func (r *reader) sensors(t *values) (s sim.Sensors) {
	s.Accel = r.triad(t.sub("accelerometer"))
	s.Gyro = r.triad(t.sub("gyro"))
	b := t.sub("barometer")
	s.Baro = sim.Barometer{Rate: b.num("rate"), Min: b.or("min", 0), Max: b.or("max", 2e5), Resolution: b.num("resolution"), Noise: b.num("noise"), Bias: b.num("bias")}
	if s.Baro.Max <= s.Baro.Min {
		r.found(b.place("max"), "a range that is empty", "`max` above `min`", "")
	}
	g := t.sub("gnss")
	s.GNSS = sim.Receiver{Rate: g.num("rate"), PositionNoise: g.num("position_noise"), HeightNoise: g.num("height_noise"), VelocityNoise: g.num("velocity_noise")}
	p := t.sub("battery")
	s.Battery = sim.Battery{Rate: p.num("rate"), Voltage: p.num("voltage"), Sag: p.num("sag"), Noise: p.num("noise"), Resolution: p.num("resolution")}
	return s
}

func (r *reader) triad(t *values) sim.Triad {
	b := t.triple("bias")
	s := sim.Triad{
		Rate: t.num("rate"), Range: t.num("range"), Resolution: t.num("resolution"), Noise: t.num("noise"),
		Bias: r3.Vec{X: b[0], Y: b[1], Z: b[2]}, Mounting: [3]r3.Vec{{X: 1}, {Y: 1}, {Z: 1}},
	}
	if t.has("mounting") {
		if m, why := mounting(t.text("mounting")); why == "" {
			s.Mounting = m
		} else {
			r.found(t.place("mounting"), quote(t.text("mounting"))+", "+why, "two or three of x, y, z, each with up, down, left, right, front or back, as in `x up y left`", "")
		}
	}
	return s
}

// mounting reads where a part's axes point, in body axes x up (to the nose), y left, z back. A third
// axis that is not told follows from the right-hand rule.
func mounting(text string) (m [3]r3.Vec, why string) {
	ways := map[string]r3.Vec{"up": {X: 1}, "down": {X: -1}, "left": {Y: 1}, "right": {Y: -1}, "back": {Z: 1}, "front": {Z: -1}}
	words := strings.Fields(strings.ReplaceAll(text, ",", " "))
	if len(words) != 4 && len(words) != 6 {
		return m, "which tells neither two axes nor three"
	}
	var told [3]bool
	for i := 0; i < len(words); i += 2 {
		axis := strings.Index("xyz", words[i])
		way, ok := ways[words[i+1]]
		switch {
		case len(words[i]) != 1 || axis < 0:
			return m, "where " + quote(words[i]) + " is no axis"
		case !ok:
			return m, "where " + quote(words[i+1]) + " is no direction"
		case told[axis]:
			return m, "which tells " + words[i] + " twice"
		}
		m[axis], told[axis] = way, true
	}
	for i := range m {
		if !told[i] {
			m[i] = r3.Cross(m[(i+1)%3], m[(i+2)%3])
		}
	}
	if r3.Dot(r3.Cross(m[0], m[1]), m[2]) != 1 {
		return m, "which is not a right-handed set of axes at right angles"
	}
	return m, ""
}

// effect reads what an output does to a vehicle; without a vehicle it only checks the verb.
func (r *reader) effect(n *node, v *sim.Vehicle) (e sim.Effect, ok bool) {
	verb, object, _ := strings.Cut(n.text, " ")
	object = strings.TrimSpace(object)
	kinds := map[string]sim.EffectKind{"nothing": sim.Nothing, "ignite": sim.Ignite, "separate": sim.Separate, "deploy": sim.Deploy}
	kind, known := kinds[verb]
	if !known {
		verbs := []string{"ignite", "separate", "deploy", "nothing"}
		r.found(n.at, quote(n.text), "ignite STAGE, separate STAGE, deploy STAGE.DEVICE, or nothing", near(verb, verbs))
		return e, false
	}
	if kind == sim.Nothing || v == nil {
		return e, true
	}
	name, device, _ := strings.Cut(object, ".")
	stage, ok := r.stageNamed(n, name, v)
	if !ok {
		return e, false
	}
	e = sim.Effect{Kind: kind, Stage: stage}
	s := &v.Stages[stage]
	switch {
	case kind == sim.Ignite && len(s.Mount.Motor.Thrust) == 0:
		r.found(n.at, quote(n.text), "a stage with a motor", "")
	case kind == sim.Separate && stage == 0:
		r.found(n.at, quote(n.text), "a stage with another one above it", "")
	case kind == sim.Separate && s.Separation.Mode != sim.ByCharge:
		r.found(n.at, quote(n.text), "a stage whose separation has `mode: charge`", "")
	case kind == sim.Deploy:
		var names []string
		for i, d := range s.Recovery {
			if names = append(names, d.Name); d.Name == device {
				e.Device = i
				return e, true
			}
		}
		r.found(n.at, quote(object), "a recovery device of "+name+": "+orNone(names), near(device, names))
	default:
		return e, true
	}
	return e, false
}

func orNone(names []string) string {
	if len(names) == 0 {
		return "it has none"
	}
	return oneOf(names)
}

// stageNamed finds a stage by name.
func (r *reader) stageNamed(n *node, name string, v *sim.Vehicle) (int, bool) {
	names := stageNames(v)
	for i := range names {
		if names[i] == name {
			return i, true
		}
	}
	r.found(n.at, "the unknown stage "+quote(name), "a stage of the vehicle: "+oneOf(names), near(name, names))
	return 0, false
}

func stageNames(v *sim.Vehicle) []string {
	names := make([]string, len(v.Stages))
	for i := range v.Stages {
		names[i] = v.Stages[i].Name
	}
	return names
}

func count(n int, what string) string {
	if n == 1 {
		return "1 " + what
	}
	return fmt.Sprintf("%d %ss", n, what)
}
