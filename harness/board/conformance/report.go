package conformance

import (
	"fmt"
	"math"
	"strings"

	"drystage/harness/board/contract"
)

func reportTests() []test {
	return []test{
		{name: "REPORT is in mm and mm/s, above the pad", contract: quote("REPORT.height", "REPORT.speed", "REPORT.apogee"), spec: "7, REPORT", needs: contract.CanLockstep, try: reportUnits},
		{name: "CONTINUITY names only outputs that the board has", contract: quote("CONTINUITY", "CONTINUITY.channel"), spec: "7, CONTINUITY", needs: contract.CanLockstep | contract.CanContinuity, extra: true, try: continuity},
	}
}

// reportStats are the greatest values that a board has reported in a flight.
type reportStats struct {
	reports               int
	height, speed, apogee int32
}

func (t *reportStats) take(r *contract.Report) {
	t.reports++
	t.height, t.speed, t.apogee = max(t.height, r.Height), max(t.speed, r.Speed), max(t.apogee, r.Apogee)
}

// unitMistake is a wrong unit, with the factor by which numbers are then wrong.
type unitMistake struct {
	factor float64
	words  string
}

// Factors of 1 foot = 304.8 mm and 1 inch = 25.4 mm: International yard and pound agreement, 1959, as in
// NIST Special Publication 811, appendix B.8.
var unitMistakes = []unitMistake{
	{1e-3, "in metres, where the contract has millimetres"},
	{1e-2, "in decimetres, where the contract has millimetres"},
	{1e-1, "in centimetres, where the contract has millimetres"},
	{1 / 304.8, "in feet, where the contract has millimetres"},
	{1 / 25.4, "in inches, where the contract has millimetres"},
	{1000 / 304.8, "in thousandths of a foot, where the contract has millimetres"},
	{10, "in tenths of a millimetre, where the contract has millimetres"},
	{1e3, "in micrometres, where the contract has millimetres"},
}

const (
	mistakeFactor  = 1.25 // a ratio within this factor of a unit mistake counts as that mistake
	estimateFactor = 2    // an estimate within this factor of the truth passes: only units are judged
)

// reportUnits compares what the board reported in the short flight with the true values.
func reportUnits(s *tester) result {
	sent := fmt.Sprintf("samples of a flight to %.0f m with a speed of %.0f m/s", top(), (boost-gravity)*burn)
	x := s.armedResult
	if x == nil {
		x = s.unarmedResult
	}
	switch {
	case x == nil:
		return result{sent: sent, came: nothing, why: "the flights above did not come to their end"}
	case x.reports.reports == 0:
		return result{outcome: NotClaimed, lacks: Reports, sent: sent, came: "no REPORT", why: "the board reports nothing; that is its own business, but scenarios can't judge what it thinks"}
	}
	t := x.reports
	r := result{outcome: Pass, sent: sent, why: "near enough to what the samples say; this point is about units, not about skill",
		came: fmt.Sprintf("%d REPORTs, at most height %d, speed %d, apogee %d", t.reports, t.height, t.speed, t.apogee)}
	var wrong, odd, silent []string
	for _, q := range [...]struct {
		name     string
		reported int32
		must     float64
	}{{"height", t.height, top()}, {"speed", t.speed, (boost - gravity) * burn}, {"apogee", t.apogee, top()}} {
		switch ratio := float64(q.reported) / (q.must * 1e3); {
		case ratio >= 1/float64(estimateFactor) && ratio <= estimateFactor:
		case q.reported <= 0:
			silent = append(silent, q.name)
		case mistaken(ratio) != "":
			wrong = append(wrong, fmt.Sprintf("%s is %.3g times what it must be: it seems to be %s", q.name, ratio, mistaken(ratio)))
		default:
			odd = append(odd, fmt.Sprintf("%s is %.3g times what it must be", q.name, ratio))
		}
	}
	switch {
	case len(wrong) > 0:
		r.outcome, r.why = Fail, "wrong units: "+strings.Join(append(wrong, odd...), "; ")
	case len(odd) > 0:
		r.outcome, r.why = Unsure, strings.Join(odd, "; ")+"; no unit explains it, so look at the board's estimate"
	case len(silent) == 3:
		r.outcome, r.why = Unsure, "every number stayed 0; did the board see the launch?"+logQuote(x.logs)
	case len(silent) > 0:
		r.why += "; " + strings.Join(silent, " and ") + " stayed 0"
	}
	return r
}

// mistaken names the unit mistake nearest to a ratio, if one is near.
func mistaken(ratio float64) (words string) {
	least := math.Log(mistakeFactor)
	for _, m := range unitMistakes {
		if d := math.Abs(math.Log(ratio / m.factor)); d < least {
			least, words = d, m.words
		}
	}
	return words
}

func continuity(s *tester) result {
	r := result{outcome: Pass, sent: throughout, came: fmt.Sprintf("%d CONTINUITYs", s.monitor.continuities), why: "so in each of them"}
	switch {
	case len(s.monitor.badContinuity) > 0:
		r.outcome, r.came, r.why = Fail, strings.Join(s.monitor.badContinuity, "; "), "an output that WELCOME does not claim"
	case s.monitor.continuities == 0:
		r.outcome, r.why = Unsure, "the board offers CONTINUITY in WELCOME and never sent one"
	}
	return r
}
