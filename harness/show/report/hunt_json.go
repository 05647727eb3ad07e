package report

import (
	"io"
	"math"
	"strconv"

	"drystage/harness"
	"drystage/harness/judge/hunt"
	"drystage/harness/show/schema"
	"drystage/harness/vary"
)

// HuntJSON writes a hunt as one JSON object (RFC 8259); file is the text of the scenario that it ended with.
func HuntJSON(w io.Writer, f *hunt.Result, file string, opt Options) error {
	if len(f.Flights) == 0 {
		return ErrEmpty
	}
	return huntObject(f, file, &opt).Write(w)
}

// huntObject is a hunt. Values are in SI, and as text as a scenario has them; flights count from 1.
func huntObject(f *hunt.Result, file string, opt *Options) object {
	t, x, e := tallied(f), f.Finding(), &f.Edge
	return object{
		{"answer", answer(f.Answer()), "fail if some flight failed, else unsure if some was, else pass"},
		{"file", f.Plan.File, "the scenario that was searched"},
		{"boards", list(opt.Seats, seatObject), boardsDoc},
		{"command", f.Command, "hunts again"},
		{"flights", len(f.Flights), "of the search"},
		{"passed", t.Pass, "flights that pass"},
		{"failed", t.Fail, "flights that fail"},
		{"unsure", t.Unsure, "flights that are neither"},
		{"flights_to_shrink", f.Extra, "that shrinking the worst case took, and finding its edge"},
		{"expectations", list(demands(f), demandObject), "the worst of each; the last, without a place, is the run itself"},
		{"seed", strconv.FormatUint(f.Case.Seed, 10), "of the shrunk case; " + seedDoc},
		{"set", list(f.Case.Values, valueObject), "what the shrunk case has in place of the files' values"},
		{"without", schema.Texts(f.Case.Without), "the faults that the shrunk case leaves out"},
		{"not_needed", schema.Texts(f.Needless()), "what it leaves as the files have it"},
		{"edge", when(e.Found, object{
			{"own", valueObject(&e.Own), "the value of the files"},
			{"before", valueObject(&e.Before), "the last value with their answer"},
			{"after", valueObject(&e.After), "the first with another answer"},
		}), "where the answer changes, when it is one value that does it"},
		{"finding", findingObject(&x), "what the shrunk case says of the demand that it is the worst of"},
		{"scenario", file, "the shrunk case as a scenario's file"},
	}
}

// demand is a demand of the scenario that was searched, and the flight that came out worst in it.
type demand struct {
	text, place string
	worst       hunt.Score
	flight      int
	at          hunt.Case
}

func demands(f *hunt.Result) (list []demand) {
	if len(f.Flights) == 0 {
		return nil
	}
	for d := range f.Flights[0].Scores {
		i := hunt.Worst(f.Flights, d)
		x := demand{demandText(f, d), "", f.Flights[i].Scores[d], i + 1, f.Space.Case(f.Flights[i].Point)}
		if d < len(f.Plan.Expect) {
			x.place = f.Plan.Expect[d].Place.String()
		}
		list = append(list, x)
	}
	return list
}

func demandObject(d *demand) object {
	var share *float64
	if measured(d.worst) {
		share = number(d.worst.Share)
	}
	return object{
		{"expectation", d.text, "what was demanded"},
		{"place", omitZero(d.place), placeDoc},
		{"answer", answer(d.worst.Answer), "of the worst flight"},
		{"share", omitZero(share), "its margin as a share of its limit"},
		{"flight", d.flight, "its number"},
		{"seed", strconv.FormatUint(d.at.Seed, 10), seedDoc},
		{"set", list(d.at.Values, valueObject), "what it had in place of the files' values"},
	}
}

func valueObject(v *harness.Value) object {
	return object{
		{"of", v.Name, "its name, as `set` of scenarios has it"},
		{"value", v.Value, "SI"},
		{"unit", omitZero(v.Unit), "of value; none: a plain number"},
		{"is", vary.Text(*v), "the same as a scenario has it"},
	}
}

// demandText is the text of an expectation, or that of the run itself.
func demandText(f *hunt.Result, d int) string {
	if d < len(f.Plan.Expect) {
		return f.Plan.Expect[d].Text
	}
	return "the run itself is whole"
}

// measured says that a merit has a share that was measured.
func measured(m hunt.Score) bool { return m.Answer != harness.Unsure && !math.IsInf(m.Share, 0) }
