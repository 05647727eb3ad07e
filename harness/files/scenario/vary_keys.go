package scenario

import (
	"regexp"

	"drystage/harness"
	"drystage/sim/quantity"
)

var varyTable = &table{name: "something that varies", doc: "What may differ from flight to flight of a sweep, and in which range: evenly `between` two values, normally by `mean` and `sigma`, cut at the ends of what the thing may be, `triangular`, or as one of a list. A single flight takes no notice of it.", rows: []row{
	{key: "of", is: variedName, need: true, doc: "what differs"},
	{key: "between", is: listShape{amount{}, 2, 2}, doc: "the least and the greatest value; each in between is as likely"},
	{key: "mean", is: amount{}, doc: "in place of between: the middle of a normal law"},
	{key: "sigma", is: amount{}, doc: "with mean: one standard deviation, at most half of what the thing may be; of a temperature in K"},
	{key: "triangular", is: listShape{amount{}, 3, 3}, doc: "in place of between: the least value, the likeliest and the greatest; from the likeliest on both ways it gets less likely, in a straight line"},
	{key: "one_of", is: listShape{amount{}, 2, 50}, doc: "in place of between: the only values that it has"},
	{key: "weights", is: listShape{number{min: 0, max: 1e6}, 2, 50}, doc: "with one_of: how likely each value is in proportion to the others; default: all alike"},
}}

var correlatedTable = &table{name: "a correlation", doc: "Two things of `vary` that don't vary independently, as a cold day and a dense one. Only drawn flights take notice of it: `drystage hunt` searches the whole ranges.", rows: []row{
	{key: "pair", is: listShape{variedName, 2, 2}, need: true, doc: "what they are"},
	{key: "rho", is: number{min: -0.99, max: 0.99}, need: true, doc: "Spearman's rank correlation: above 0, the one is mostly large when the other is", typical: "what `drystage sweep` prints beside `driven by` is of this kind"},
}}

var setTable = &table{name: "a set value", doc: "A value in place of that in the files, of anything that can vary: one flight of a sweep, flown again by itself. What is set doesn't vary.", rows: []row{
	{key: "of", is: variedName, need: true, doc: "what is set; the names are those of `vary`"},
	{key: "is", is: amount{}, need: true, doc: "its value"},
}}

// parameterForm is one kind of parameter: the form of its name, and its widest range.
type parameterForm struct {
	what harness.Varied
	form string
	is   quantityShape // of faults: as the fault's own key has it
	doc  string
}

// parameterForms lists all kinds of parameter. What is a key of a file has the key's range.
func parameterForms() []parameterForm {
	return []parameterForm{
		{harness.WindSpeed, "wind.speed", windSpeed, "the steady wind's speed; the weather must have one"},
		{harness.WindFrom, "wind.from", windFrom, "where the steady wind comes from; gusts turn with it. Across north: -20 deg to 20 deg"},
		{harness.Temperature, "weather.temperature", dayTemperature, "of the air at the pad"},
		{harness.Pressure, "weather.pressure", dayPressure, "station pressure at the pad"},
		{harness.RailTilt, "rail.tilt", qtyOf(railUseTable, "tilt"), "from vertical"},
		{harness.RailAzimuth, "rail.azimuth", qtyOf(railUseTable, "azimuth"), "its heading: clockwise from north, the way it leans"},
		{harness.StageMass, "STAGE.mass", qtyOf(stageTable, "mass"), "all but the motor, from half to twice of what is written; moments of inertia go with it"},
		{harness.CGShift, "STAGE.cg_shift", length(-20, 20), "added to the centre of gravity, aft; it stays inside the stage"},
		{harness.DragScale, "STAGE.drag", factor, "factor on its drag, and on that of the stack that it is the lowest of"},
		{harness.DragScale, "vehicle.drag", factor, "factor on the drag of all stages; it multiplies those of single stages"},
		{harness.ImpulseScale, "STAGE.impulse", factor, "factor on its motors' total impulse, over the same time; on top of their own scatter"},
		{harness.BurnTimeScale, "STAGE.burn_time", factor, "factor on its motors' burn time, at the same total impulse; on top of their own scatter"},
		{harness.IgniterDelay, "STAGE.igniter_delay", qtyOf(igniterTable, "delay"), "from the pulse to the motor burning; on top of its own scatter"},
		{harness.BatteryVoltage, "BOARD.battery", qtyOf(batteryTable, "voltage"), "the battery's voltage, fresh and without load; above its brown_out"},
		{harness.FaultFrom, "FAULT.from", seconds(-longestFaultOffset, longestFaultOffset), "the span from the event of its `from`; below 0 it comes from a rehearsal. FAULT is the kind, as in spike.from; where there are several of it, the kind and its number, as in spike.2.from"},
		{harness.FaultBy, "FAULT.by", quantityShape{}, "its size, in its own unit and range"},
	}
}

// longestFaultOffset is the longest span in s between an event and a fault that varies.
const longestFaultOffset = 600

// factor is what a factor may be: the same as that of the faults impulse_error and burn_time_error.
var factor = quantityShape{quantity.Number, 0.5, 1.5}

// qtyOf gives the shape of a key that is a quantity.
func qtyOf(t *table, key string) quantityShape {
	for _, r := range t.rows {
		if r.key == key {
			return r.is.(quantityShape)
		}
	}
	panic("scenario: no key " + key + " of " + t.name)
}

// nameShape is a name of something in the flight. One that names nothing here is reported with the names that do.
type nameShape struct {
	word *regexp.Regexp
	form string // what it is, for messages
}

var (
	faultName = nameShape{regexp.MustCompile(`^[a-z_]+(\.[0-9]+)?$`),
		"the name of a fault: its kind, as in spike, or the kind and its number, as in spike.2"}
	variedName = nameShape{regexp.MustCompile(`^[A-Za-z][A-Za-z0-9_]*(\.[0-9]+)?\.[a-z_]+$`),
		"what varies, as in wind.speed, rail.tilt or STAGE.mass (`drystage explain vary`)"}
)

func (s nameShape) schema() map[string]any { return pattern(s.word.String()) }

func (s nameShape) read(l *loader, n *node) any {
	if !l.isScalar(n, s.form) {
		return nil
	}
	return n.text
}
