package page

import (
	"drystage/harness"
	"drystage/harness/show/report"
)

// danger is the finding of a whole run that a reader must see first: of all failures the most dangerous, and of equal
// ones the first of the worst scenario.
type danger struct {
	N                           int // of its section
	Scenario, Text, Why, Answer string
	What                        string // what it may come to on the field
	First                       string // what failed first in that run
}

// dangerWords say what a failure means, by its danger.
var dangerWords = [...]string{
	harness.OfData:        "What a board reports is off.",
	harness.OfFlight:      "The flight isn't as it is meant.",
	harness.OfNoFire:      "An output that must switch on did not, or not in time.",
	harness.OfFiring:      "An output switched on where it must be dark.",
	harness.OfFiringMotor: "A motor would have been lit where it must stay dark.",
}

// mostDangerous finds it among the verdicts in the order of their sections; nil: nothing failed or is unsure.
func mostDangerous(runs []Summary, order []int) (out *danger) {
	worst := harness.OfData
	for n, i := range order {
		v := &runs[i].verdict
		f, ok := report.Deciding(v)
		if v.Answer == harness.Pass || !ok || out != nil && (v.Answer != harness.Fail || f.Danger <= worst) {
			continue
		}
		out, worst = &danger{N: n + 1, Scenario: v.Name, Text: f.Text, Why: f.Reason, Answer: v.Answer.String(), First: runs[i].firstText(f.Text)}, f.Danger
		if v.Answer == harness.Fail && f.Answer == harness.Fail && int(f.Danger) < len(dangerWords) && f.Place.Line > 0 {
			out.What = dangerWords[f.Danger]
		}
	}
	return out
}
