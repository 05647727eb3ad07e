package scenario

import (
	"slices"

	"drystage/harness"
	"drystage/sim"
)

var scenarioTable = blockOf("a scenario", "A flight, what goes wrong in it, and what the boards must do. Keys that are required may come from another scenario by `like`.", func(p *harness.Plan) []row {
	return []row{
		kindRow("scenario"),
		{key: "like", is: filePath{}, doc: "another scenario: every key that is not given here is taken from there"},
		{key: "title", is: textLine{most: 120}, need: true, doc: "one line for tables", to: &p.Title},
		{key: "story", is: textLine{most: 4000, story: true}, doc: "why the scenario exists", to: &p.Story},
		{key: "vehicle", is: filePath{}, need: true, doc: "the vehicle's file"},
		{key: "boards", is: namedBlocks{boardUseTable, 1, 8, nameLetters, "a board"}, need: true, doc: "the boards by their role"},
		{key: "weather", is: weatherTable, def: "{}", doc: "the day; overrides the site's", to: &p.Setup.Vehicle.Site},
		{key: "rail", is: railUseTable, doc: "overrides the vehicle's rail", to: &p.Setup.Vehicle.Rail},
		{key: "pad", is: padTable, def: "{}", doc: "what happens before the launch: waiting, sun and cold, handling, wind (`drystage explain pad`)", to: &p.Setup.Pad},
		{key: "seed", is: seed{}, def: "1", doc: "of all chance in the flight", to: &p.Setup.Seed},
		{key: "launch", is: seconds(0.1, 3000), def: "5 s", doc: "when the launch controller fires", to: &p.Setup.Launch},
		{key: "commands", is: listShape{commandTable, 0, 100}, doc: "what the operator does"},
		{key: "faults", is: listShape{faultShape, 0, sim.MaxFaults}, doc: "what goes wrong"},
		{key: "without", is: listShape{faultName, 0, sim.MaxFaults}, doc: "faults that are left out, mostly of the scenario that this one is like: by the kind, as in spike, and where there are several of it with the number, as in spike.2"},
		{key: "vary", is: listShape{varyTable, 0, 100}, doc: "what may differ from flight to flight of a sweep; of one taken by `like`, what the scenario has"},
		{key: "correlated", is: listShape{correlatedTable, 0, 200}, doc: "pairs of what varies that don't do so independently"},
		{key: "set", is: listShape{setTable, 0, 100}, doc: "values in place of those in the files, of anything that can vary"},
		{key: "log", is: logTable, doc: "a flight log that is played to the board in place of a simulated flight"},
		{key: "accepts", is: listShape{warningWord, 0, 16}, doc: "warnings of a flight outside its model (`drystage explain warnings`) that leave the verdict as it is; any other leaves it unsure"},
		{key: "until", is: anchor{}, def: "landing + 1 s", doc: "the run is whole when it gets there"},
		{key: "limit", is: seconds(1, 3600), def: "600 s", doc: "and cut short when it doesn't get there by now", to: &p.Setup.Limit},
		{key: "expect", is: listShape{expectShape, 1, 500}, need: true, doc: "what the boards must and must not do"},
	}
}).inherited()

var boardUseTable = &table{name: "a board's use", doc: "A board and the stage that carries it.", rows: []row{
	{key: "file", is: filePath{}, need: true, doc: "the board's file"},
	{key: "stage", is: stageWord, doc: "the stage that carries it; default the stage of the board's role"},
	{key: "settings", is: settingsShape, doc: "over those of the board's file"},
}}

var logTable = &table{name: "a log", doc: "A flight log.", rows: []row{
	{key: "file", is: filePath{}, need: true, doc: "the log: a table, NMEA 0183 sentences or a record"},
	{key: "mapping", is: filePath{}, doc: "what the table's columns mean; default as header and numbers tell"},
}}

// warningWord is one of the warnings of a flight that has left its model.
var warningWord = func() (w words) {
	for _, k := range sim.WarningKinds() {
		if k.OutsideModel() {
			w = append(w, k.String())
		}
	}
	return w
}()

// accepted reads the warnings that a scenario accepts, each once.
func (s *planBuilder) accepted(v value) (list []sim.WarningKind) {
	for _, e := range v.list() {
		for _, k := range sim.WarningKinds() {
			switch {
			case !e.ok() || k.String() != e.text():
			case slices.Contains(list, k):
				s.l.report(harness.Problem{Place: e.at, Found: quote(e.text()) + " again", Wanted: "each warning once"})
			default:
				list = append(list, k)
			}
		}
	}
	return list
}

var weatherTable = blockOf("weather", "The day of the flight.", func(s *sim.Site) []row {
	return []row{
		{key: "temperature", is: dayTemperature, doc: "at the pad; default the site's", to: &s.Temperature},
		{key: "pressure", is: dayPressure, doc: "station pressure at the pad; default the site's", to: &s.Pressure},
		{key: "wind", is: windTable, doc: "default calm"},
	}
})

var railUseTable = blockOf("a rail", "What is different about the rail.", func(r *sim.Rail) []row {
	return []row{
		{key: "length", is: length(0.1, 50), doc: "travel until the rocket is free", to: &r.Length},
		{key: "tilt", is: degrees(0, 60), doc: "from vertical", to: &r.Tilt},
		{key: "azimuth", is: degrees(-360, 360), doc: "clockwise from north, the way it leans", to: &r.Azimuth},
	}
})

var commandWord = words{"arm", "disarm", "stage"} // bits of sim.Commands, in order

var commandTable = &table{name: "a command", doc: "Something the operator does.", rows: []row{
	{key: "at", is: anchor{}, need: true, doc: "when"},
	{key: "give", is: commandWord, need: true, doc: "stage asks for the upper motor by radio"},
	{key: "to", is: boardWord, doc: "the board; default all"},
}}
