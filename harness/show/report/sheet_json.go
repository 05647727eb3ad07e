package report

import (
	"io"
	"strconv"

	"drystage/harness/judge/coverage"
	"drystage/harness/judge/ready"
	"drystage/harness/show/schema"
	"drystage/sim"
)

// SheetJSON writes a readiness sheet as one JSON object (RFC 8259).
func SheetJSON(w io.Writer, s *ready.Sheet, opt Options) error {
	if emptySheet(s) {
		return ErrEmpty
	}
	return sheetObject(s, &opt).Write(w)
}

func sheetObject(s *ready.Sheet, opt *Options) object {
	return object{
		{"answer", answer(s.Answer()), "of the bench alone"},
		{"note", noPermission, "what no sheet can say"},
		{"passed", s.Pass, "scenarios that pass"},
		{"failed", s.Fail, "scenarios that fail"},
		{"unsure", s.Unsure, "scenarios that are neither"},
		{"open", list(s.Points, pointObject), "what is not proved, the gravest first"},
		{"field", ready.Field(), "what to check at the launch site, which no bench can"},
		{"vehicles", list(s.Vehicles, groupObject), "that were flown"},
		{"boards", list(s.Boards, sheetBoardObject), "that flew them"},
		{"flown_by", list(s.Versions, groupObject), "versions of drystage, with Go and processor"},
		{"judged_by", madeText(&opt.Made), "the version that made this sheet"},
		{"passed_in", when(s.Days.Known, daysObject(&s.Days)), "least and greatest of what the scenarios that pass were flown in; without it nothing passed"},
		{"suite", when(s.Suite.Compared, object{{"files", list(s.Suite.Files, suiteFileObject), "scenario files that the records should cover"}}), "without it nothing was compared"},
		{"outputs", list(s.Outputs, outputObject), "of all boards"},
		{"closest", list(s.Closest, callObject), "the smallest margins of all"},
		{"faults_tried", list(faultsTried(s), triedObject), "kinds of fault that some record tried"},
		{"faults_never_tried", schema.Texts(neverTried(&s.Tried)), "all other kinds"},
		{"scenarios", list(s.Scenarios, sheetScenarioObject), "all records of one name"},
		{"digest", sheetDigest(s), "SHA-256 of all that the sheet was made of, in hex"},
		{"not_ours", when(len(opt.Foreign) > 0, opt.Foreign), foreignDoc},
	}
}

func pointObject(p *ready.Point) object {
	return object{
		{"kind", schema.OneOf(p.Kind.String(), ready.Kinds()...), "of open point"},
		{"text", p.Text, "what is open"},
		{"next", omitZero(p.Next), "what to do"},
		{"command", when(len(p.Command) > 0, p.Command), "words of a command line that does it; CAPITALS are yours to fill in"},
		{"scenarios", when(len(p.Scenarios) > 0, p.Scenarios), "where it was seen"},
	}
}

func groupObject(g *ready.Group) object {
	return object{
		{"name", g.Name, "of what stands in the scenarios"},
		{"scenarios", schema.Texts(g.Scenarios), "their names"},
	}
}

func sheetBoardObject(b *ready.Board) object {
	return object{
		{"role", b.Role, "of the board in the scenarios"},
		{"names", list(b.Names, groupObject), "as given at the handshake"},
		{"addresses", list(b.Addresses, groupObject), "where the board was"},
	}
}

func daysObject(d *ready.Days) object {
	ends := func(r ready.Range) [2]float64 { return [2]float64{round(r.Least, 6), round(r.Most, 6)} }
	return object{
		{"wind_m_s", ends(d.Wind), "steady wind, m/s"},
		{"gust_m_s", round(d.Gust, 6), "the greatest gust, m/s"},
		{"temperature_k", ends(d.Temperature), "at the pad, K"},
		{"pressure_pa", ends(d.Pressure), "at the pad, Pa"},
		{"rail_tilt_rad", ends(d.RailTilt), "from vertical, rad"},
	}
}

func suiteFileObject(f *ready.SuiteFile) object {
	return object{
		{"name", f.Name, "the scenario's file name without folder and ending"},
		{"file", f.File, "the path it was read from"},
		{"digest", f.Digest, digestDoc},
		{"flown", schema.OneOf(f.Flown.String(), ready.NotFlown.String(), ready.FlownBefore.String(), ready.FlownAsItIs.String()), "whether there is a record of it"},
	}
}

func outputObject(o *ready.Output) object {
	counts := func(list []ready.Count) map[string]int {
		m := map[string]int{}
		for _, c := range list {
			m[c.Word] = c.Scenarios
		}
		return m
	}
	return object{
		{"board", o.Role, "its role"},
		{"name", o.Name, "of the output"},
		{"channels", append([]int{}, o.Channels...), "as the board numbers it; more than one if records differ"},
		{"does", o.Does, "what it acts on"},
		{"demands", counts(o.Demands), "scenarios by kind of expectation"},
		{"fired", o.Fired, "scenarios that pass in which it switched on"},
		{"fired_in_lockstep", o.Lockstep, "of them"},
		{"fired_in_real_time", o.RealTime, "of them"},
		{"time_by", counts(o.Known), "scenarios by what its time rested on"},
		{"closest", schema.ObjectIf(o.Closest, callObject), "the smallest margin of all that was demanded of it"},
	}
}

func callObject(c *ready.Call) object {
	f := &c.Finding
	return append(object{
		{"scenario", c.Scenario, "its name"},
		{"record", c.Record, "the file"},
		{"pace", pace(c.RealTime), "of the run"},
		{"expectation", f.Text, "what was demanded"},
		{"place", f.Place.String(), placeDoc},
		{"answer", answer(f.Answer), "to it"},
	}, marginMembers(f, true)...)
}

func pace(realTime bool) schema.Word {
	return schema.OneOf(paceText(realTime), paceText(false), paceText(true))
}

// faultsTried lists the kinds of fault that some record tried.
func faultsTried(s *ready.Sheet) (kinds []triedFault) {
	for i := range sim.FaultKinds() {
		if k := sim.FaultKind(i + 1); s.Tried.Any(k) {
			kinds = append(kinds, triedFault{k, &s.Tried})
		}
	}
	return kinds
}

// triedFault is a kind of fault and the table of what was tried.
type triedFault struct {
	kind  sim.FaultKind
	table *coverage.Table
}

func triedObject(t *triedFault) object {
	phases := map[string]int{}
	for p := range coverage.Phases {
		if t.table == nil {
			break
		}
		if n := t.table.Count(t.kind, p); n > 0 {
			phases[p.String()] = n
		}
	}
	return object{
		{"fault", t.kind.String(), "the kind's word in scenario files"},
		{"scenarios_by_phase", phases, "of flight, in which it changed something"},
	}
}

func sheetScenarioObject(x *ready.Scenario) object {
	return object{
		{"name", x.Name, "of the scenario"},
		{"title", x.Title, "its title"},
		{"answer", answer(x.Answer), "the worst of its records"},
		{"records", list(x.Records, recordObject), "that the sheet rests on"},
	}
}

func recordObject(r *ready.Record) object {
	return object{
		{"files", schema.Texts(r.Files), "several when copies of it were read"},
		{"sha256", r.Sum, "of the record, in hex"},
		{"scenario_sha256", r.Digest, digestDoc},
		{"seed", strconv.FormatUint(r.Seed, 10), seedDoc},
		{"pace", pace(r.RealTime), "of the run"},
		{"answer", answer(r.Answer), answerDoc},
	}
}
