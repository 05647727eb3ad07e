package scenario

import (
	"drystage/harness"
	"drystage/sim"
	"drystage/sim/quantity"
)

var padTable = blockOf("a pad", "What happens to rocket and boards before the launch, all of it before the launch controller fires. Samples are as in flight: turning and shocks are felt at the place of each part.", func(p *sim.Pad) []row {
	return []row{
		{key: "wait", is: seconds(0, 43200), def: "0 s", doc: "how long the boards and their parts have been on when the run begins. Only what that changes in the parts is simulated: temperature (heating, warmth), charge of the battery, start of the receiver; the boards begin with the run. A wait that a board must live through is a later `launch`", to: &p.Wait},
		{key: "warmth", is: warmthTable, doc: "parts that follow the sun or the cold; default none", to: &p.Warmth},
		{key: "carried", is: carriedTable, doc: "the rocket is carried, lying, from the start on; default it is not; needs `raised`", to: &p.Carried},
		{key: "raised", is: spanTable, doc: "the rocket lies until `from`, its nose where the rail leans to, and stands on its rail from `until` on; default it stands from the start on", to: &p.Raised},
		{key: "drops", is: listShape{dropTable, 0, 20}, doc: "the rocket slips and falls onto its stop", to: listOf(&p.Drops)},
		{key: "knocks", is: listShape{knockTable, 0, 20}, doc: "somebody runs into rocket or rail", to: listOf(&p.Knocks)},
		{key: "rocking", is: rockingTable, def: "{}", doc: "the swing of rocket and rail, which knocks begin and gusts keep up: the gusts of a Dryden model for the wind at the rail, also where the flight has no turbulence. It fades in the last second before the launch", to: &p.Rocking},
	}
})

var warmthTable = blockOf("a warmth", "All parts of the boards go from `start` to the air's temperature plus `rise`, beside their own heating, from the moment on at which the boards are switched on.", func(w *sim.Warmth) []row {
	return []row{
		{key: "start", is: dayTemperature, doc: "when they are switched on; default the air's", to: &w.Start},
		{key: "rise", is: quantityShape{quantity.Temperature, -40, 80}, def: "0 K", doc: "a difference, in K; below 0 of a clear night", typical: "10 to 40 K in a dark airframe in the sun, -2 to -5 K under a clear night sky" + commonPractice, to: &w.Rise},
		{key: "time", is: seconds(1, 36000), def: "15 min", doc: "after which 63 % of the way are gone", typical: "5 to 30 min" + commonPractice, to: &w.Time},
	}
})

var carriedTable = blockOf("a carried rocket", "People carry the rocket.", func(c *sim.Carried) []row {
	return []row{
		{key: "until", is: seconds(0.1, 3000), need: true, doc: "when they put it down, in seconds of the run", to: &c.Until},
		{key: "pace", is: quantityShape{quantity.Frequency, 0.5, 4}, def: "2 Hz", doc: "steps a second", typical: "1.6 to 2.2 Hz" + commonPractice, to: &c.Pace},
		{key: "bounce", is: quantityShape{quantity.Acceleration, 0, 20}, def: "3 m/s2", doc: "greatest vertical acceleration of a step", typical: "1 to 4 m/s2" + commonPractice, to: &c.Bounce},
		{key: "sway", is: degrees(0, 60), def: "5 deg", doc: "to either side, once in two steps", typical: "2 to 15 deg" + commonPractice, to: &c.Sway},
	}
})

var spanTable = blockOf("a span", "A span of time of the run.", func(s *sim.Span) []row {
	return []row{
		{key: "from", is: seconds(0, 3000), need: true, doc: "when it begins", to: &s.From},
		{key: "until", is: seconds(0.1, 3000), need: true, doc: "when it ends", typical: "2 to 10 s later" + commonPractice, to: &s.Until},
	}
})

var dropTable = blockOf("a drop", "The rocket is lifted along its rail within 0.5 s, let go, and caught by its stop.", func(d *sim.Drop) []row {
	return []row{
		{key: "at", is: seconds(0.5, 3000), need: true, doc: "when it is let go, in seconds of the run", to: &d.At},
		{key: "height", is: length(0.001, 0.5), need: true, doc: "how far it falls", typical: "5 to 50 mm" + commonPractice, to: &d.Height},
		{key: "stop", is: seconds(1e-3, 0.1), def: "5 ms", doc: "how long the stop takes, by half a sine wave: the peak is pi v/(2 stop) for the speed v of the fall", typical: "2 to 20 ms" + commonPractice, to: &d.Stop},
	}
})

var knockTable = blockOf("a knock", "A blow across the rail by half a sine wave, after which rocket and rail swing freely.", func(k *sim.Knock) []row {
	return []row{
		{key: "at", is: seconds(0, 3000), need: true, doc: "when, in seconds of the run", to: &k.At},
		{key: "speed", is: quantityShape{quantity.Speed, 0.001, 3}, need: true, doc: "that it gives the centre of gravity; the peak there is pi speed/(2 length)", typical: "0.1 to 0.6 m/s" + commonPractice, to: &k.Speed},
		{key: "length", is: seconds(1e-3, 0.2), def: "10 ms", doc: "of the blow", typical: "3 to 30 ms" + commonPractice, to: &k.Length},
		{key: "toward", is: windFrom, def: "0 deg", doc: "clockwise from north, where it goes", to: &k.Toward},
	}
})

var rockingTable = blockOf("a rocking", "Rocket and rail as one damped oscillator about the foot of the rail.", func(r *sim.Rocking) []row {
	return []row{
		{key: "frequency", is: quantityShape{quantity.Frequency, 0.5, 20}, def: "3 Hz", doc: "of the free swing", typical: "1.5 to 8 Hz" + commonPractice, to: &r.Frequency},
		{key: "damping", is: number{min: 0.005, max: 0.5}, def: "0.04", doc: "share of critical damping", typical: "0.02 to 0.1" + commonPractice, to: &r.Damping},
	}
})

// pad reports handling that is out of order or too late. o is the block.
func (s *planBuilder) pad(o *object) {
	p := &s.plan.Setup.Pad
	raised, carried := o.get("raised"), o.get("carried")
	span := raised.object()
	wrong := func(v value, found, wanted string) {
		s.l.report(harness.Problem{Place: v.at, Found: found, Wanted: wanted})
	}
	switch until := span.get("until"); {
	case carried.given && !raised.given:
		wrong(carried, "carried without \"raised\"", "raised: when the rocket is put onto its rail")
	case !raised.given || !until.ok() || !span.get("from").ok():
	case p.Raised.Until <= p.Raised.From:
		wrong(until, "until "+p.Raised.Until.String(), "a time after from, "+p.Raised.From.String())
	case p.Carried.Until > p.Raised.From:
		wrong(carried, "carried until "+p.Carried.Until.String(), "at most the time at which it is raised, "+p.Raised.From.String())
	case p.Raised.Until > s.plan.Setup.Launch:
		wrong(until, "until "+p.Raised.Until.String(), "a time before the launch, "+s.plan.Setup.Launch.String())
	}
	s.l.rising(o.get("drops"), "at", quantity.Time)
	s.shocks(o.get("drops"), sim.Second)
	s.shocks(o.get("knocks"), 0)
}

// shocks reports shocks of a list that come before the rocket stands on its rail, and a room of time before, or less
// than a second before the launch.
func (s *planBuilder) shocks(list value, room sim.Time) {
	set := &s.plan.Setup
	from, until := set.Pad.Raised.Until, set.Launch-sim.Second
	if from > 0 {
		from += room
	}
	for _, o := range list.objects() {
		if at := o.get("at"); at.ok() && (at.time() < from || at.time() > until) {
			s.l.report(harness.Problem{Place: at.at, Found: "at " + at.time().String(), Wanted: "from " + from.String() + " to " + until.String(), Hint: "between raising and the last second before the launch"})
		}
	}
}
