package scenario

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"drystage/harness"
	"drystage/sim"
	"drystage/sim/quantity"
)

// effectShape is what an output does to the vehicle, as verb and object.
type effectShape struct{}

var effects = [...]struct {
	verb, object string
	kind         sim.EffectKind
}{{"nothing", "", sim.Nothing}, {"ignite", "STAGE", sim.Ignite}, {"separate", "STAGE", sim.Separate}, {"deploy", "STAGE.DEVICE", sim.Deploy}}

const effectForm = "ignite STAGE, separate STAGE, deploy STAGE.DEVICE or nothing"

// writtenEffect is what an output does as a file has it. Whether the vehicle has such parts is checked later.
type writtenEffect struct {
	kind          sim.EffectKind
	stage, device string
}

func (effectShape) schema() map[string]any {
	const word = `[A-Za-z][A-Za-z0-9_]*`
	return pattern(`^\s*(nothing|(ignite|separate)\s+` + word + `|deploy\s+` + word + `\.` + word + `)\s*$`)
}

func (effectShape) read(l *loader, n *node) any {
	if !l.isScalar(n, effectForm) {
		return nil
	}
	words := strings.Fields(n.text)
	var verbs []string
	for _, e := range effects {
		verbs = append(verbs, e.verb)
		if len(words) == 0 || words[0] != e.verb || (len(words) == 1) != (e.object == "") || len(words) > 2 {
			continue
		}
		out := writtenEffect{kind: e.kind}
		dotted := false
		if e.object != "" {
			out.stage, out.device, dotted = strings.Cut(words[1], ".")
		}
		if dotted == (e.kind == sim.Deploy) {
			return out
		}
	}
	hint := ""
	if len(words) > 0 {
		hint = nearest(words[0], verbs)
	}
	for _, e := range effects {
		if len(words) > 0 && words[0] == e.verb {
			hint = strings.TrimSpace("write " + e.verb + " " + e.object)
		}
	}
	l.report(harness.Problem{Place: n.at, Found: quote(n.text), Wanted: effectForm, Hint: hint})
	return nil
}

// board reads a board's file. What its outputs do is left to the caller, who knows the vehicle.
func (l *loader) board(f *file) *object {
	n := l.ofKind(f, "board")
	if n == nil {
		return nil
	}
	o, _ := boardTable.read(l, n).(*object)
	l.checkSensors(o.get("sensors").object())
	var channels []float64
	var names []string
	for _, out := range o.get("outputs").objects() {
		c, n := out.get("channel"), out.get("name")
		if c.ok() && slices.Contains(channels, c.num()) {
			l.report(harness.Problem{Place: c.at, Found: fmt.Sprintf("channel %v again", c.num()), Wanted: "each channel once"})
		}
		if n.ok() && slices.Contains(names, n.text()) {
			l.report(harness.Problem{Place: n.at, Found: "output " + quote(n.text()) + " again", Wanted: "each output with a name of its own"})
		}
		channels, names = append(channels, c.num()), append(names, n.text())
	}
	book := l.boardSettings(o)
	l.settings(&book, o.get("settings"), nil)
	l.checkNMEA(o)
	return o
}

// effects gives each output its effect on the vehicle, and reports parts that the vehicle doesn't have.
func (l *loader) effects(o *object, wires []sim.Wire, c *eventCatalogue, v *sim.Vehicle) {
	for i, out := range o.get("outputs").objects() {
		does := out.get("does")
		if e, ok := does.x.(writtenEffect); ok {
			wires[i].Effect = l.effect(does.at, e, c, v)
		}
	}
}

func (l *loader) effect(at harness.Place, e writtenEffect, c *eventCatalogue, v *sim.Vehicle) sim.Effect {
	out := sim.Effect{Kind: e.kind}
	if e.kind == sim.Nothing {
		return out
	}
	if out.Stage = c.stage(l, at, e.stage); out.Stage < 0 {
		return sim.Effect{}
	}
	wrong := func(found, wanted, hint string) {
		l.report(harness.Problem{Place: at, Found: found, Wanted: wanted, Hint: hint})
	}
	s := &v.Stages[out.Stage]
	switch e.kind {
	case sim.Ignite:
		if !c.motors[out.Stage] {
			wrong("ignite "+e.stage, "a stage with a motor", "stage "+e.stage+" has none")
		}
	case sim.Separate:
		if out.Stage == 0 {
			wrong("separate "+e.stage, "a lower stage", "the top stage has none above it to let go of")
		} else if s.Separation.Mode != sim.ByCharge {
			wrong("separate "+e.stage, "a stage that separates by charge", "give stage "+e.stage+" `separation: {mode: charge}`")
		}
	case sim.Deploy:
		out.Device = c.device(l, at, out.Stage, e.device)
	}
	return out
}

// part tells how a fault of a sensor is measured, and how large it may sanely be.
type part struct {
	dim, rate quantity.Dimension
	most      float64
	axes      bool
}

// parts is indexed by sim.Part.
var parts = [...]part{
	sim.PartAccel:   {quantity.Acceleration, quantity.Jerk, 1e5, true},
	sim.PartGyro:    {quantity.AngularRate, quantity.AngularAcceleration, 200 * math.Pi, true},
	sim.PartBaro:    {quantity.Pressure, quantity.PressureRate, 2e5, false},
	sim.PartGNSS:    {quantity.Length, quantity.Speed, 1e5, true},
	sim.PartBattery: {quantity.Voltage, quantity.VoltageRate, 100, false},
	sim.PartMag:     {quantity.FluxDensity, quantity.FluxDensityRate, 0.1, true},
}
