package verdict

import (
	"fmt"
	"slices"

	"drystage/harness"
	"drystage/sim"
)

// warned lists the warnings of the flight, then the accepted ones that did not occur. The stage of a warning in a
// malformed record may not exist.
func (j *judge) warned() (list []harness.Warned) {
	p := &j.rec.Plan
	exit, left := sim.Anchor{Event: sim.EventRailExit}.In(j.rec.Events)
	for i := range j.rec.Warnings {
		w := &j.rec.Warnings[i]
		who := "the rocket"
		if (!left || w.From > exit) && inside(w.Stage, len(p.Setup.Vehicle.Stages)) {
			who = p.Setup.Vehicle.Stages[w.Stage].Name
		}
		list = append(list, harness.Warned{
			Kind: w.Kind.String(), Text: fmt.Sprintf("%s, %s: %s; %s", who, w.When(0), w.Kind.Text(), w.Values()),
			Outside: w.Kind.OutsideModel() || w.Kind.String() == "", Accepted: slices.Contains(p.Accepts, w.Kind),
		})
	}
	if !j.rec.Complete() || p.Log.File != "" {
		return list
	}
	for _, k := range p.Accepts {
		if !slices.ContainsFunc(j.rec.Warnings, func(w sim.Warning) bool { return w.Kind == k }) {
			list = append(list, harness.Warned{Kind: k.String(), Outside: k.OutsideModel(), Accepted: true, Missing: true})
		}
	}
	return list
}

// outsideModel doubts a flight outside of its model if the scenario doesn't accept that: once for each kind.
func outsideModel(list []harness.Warned, file string) (fs []harness.Finding) {
	var told []string
	for i := range list {
		w := &list[i]
		if !w.Outside || w.Accepted || slices.Contains(told, w.Kind) {
			continue
		}
		told = append(told, w.Kind)
		more := 0
		for _, x := range list[i+1:] {
			if x.Kind == w.Kind {
				more++
			}
		}
		f := harness.Finding{Text: "the flight stays inside its model: " + w.Kind, Reason: w.Text, Place: harness.Place{File: file}}
		if more > 0 {
			f.Reason += fmt.Sprintf("; and %s more", times(more))
		}
		if w.Kind == "" {
			f.Text, f.Reason = "the flight stays inside its model", "the record holds a warning of a kind that is not known here"
		} else {
			f.Reason += fmt.Sprintf("; what it shows after that may not be so: mend the vehicle or the flight or, if it is a fair test of the board all the same, say `accepts: [%s]`", w.Kind)
		}
		fs = append(fs, f)
	}
	return fs
}
