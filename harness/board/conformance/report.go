package conformance

import (
	"fmt"
	"math"
	"strings"

	"drystage/harness/board/contract"
)

func reportTests() []test {
	return []test{
		{name: "REPORT is in mm and mm/s, above the pad", contract: says("REPORT.height", "REPORT.speed", "REPORT.apogee"), spec: "7, REPORT", needs: contract.CanLockstep, try: reportUnits},
		{name: "CONTINUITY names only outputs that the board has", contract: says("CONTINUITY", "CONTINUITY.channel"), spec: "7, CONTINUITY", needs: contract.CanLockstep | contract.CanContinuity, extra: true, try: continuity},
	}
}

// told is the greatest that a board has reported in a flight.
type told struct {
	reports               int
	height, speed, apogee int32
}

func (t *told) take(r *contract.Report) {
	t.reports++
	t.height, t.speed, t.apogee = max(t.height, r.Height), max(t.speed, r.Speed), max(t.apogee, r.Apogee)
}

// scale is a mistake of units: by which factor a number is then off.
type scale struct {
	factor float64
	words  string
}

// Factors of 1 foot = 304.8 mm and 1 inch = 25.4 mm: International yard and pound agreement, 1959, as in
// NIST Special Publication 811, appendix B.8.
var scales = []scale{
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
	near  = 1.25 // factor around a mistake of units
	loose = 2    // factor within which a board's estimate counts as one: this is about units, not about skill
)

// reportUnits compares what a board has reported in the short flight with that flight.
func reportUnits(s *tester) result {
	sent := fmt.Sprintf("samples of a flight to %.0f m with a speed of %.0f m/s", top(), (boost-gravity)*burn)
	x := s.arms
	if x == nil {
		x = s.flat
	}
	switch {
	case x == nil:
		return result{sent: sent, came: nothing, why: "the flights above did not come to their end"}
	case x.told.reports == 0:
		return result{outcome: NotClaimed, lacks: Reports, sent: sent, came: "no REPORT", why: "the board reports nothing; that is its own business, but scenarios can't judge what it thinks"}
	}
	t := x.told
	r := result{outcome: Pass, sent: sent, why: "near enough to what the samples say; this point is about units, not about skill",
		came: fmt.Sprintf("%d REPORTs, at most height %d, speed %d, apogee %d", t.reports, t.height, t.speed, t.apogee)}
	var wrong, odd, silent []string
	for _, q := range [...]struct {
		name string
		told int32
		must float64
	}{{"height", t.height, top()}, {"speed", t.speed, (boost - gravity) * burn}, {"apogee", t.apogee, top()}} {
		switch ratio := float64(q.told) / (q.must * 1e3); {
		case ratio >= 1/float64(loose) && ratio <= loose:
		case q.told <= 0:
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
		r.outcome, r.why = Unsure, "every number stayed 0; did the board see the launch?"+quoted(x.logs)
	case len(silent) > 0:
		r.why += "; " + strings.Join(silent, " and ") + " stayed 0"
	}
	return r
}

// mistaken names the mistake of units that is nearest to a ratio, if one is near.
func mistaken(ratio float64) (words string) {
	least := math.Log(near)
	for _, m := range scales {
		if d := math.Abs(math.Log(ratio / m.factor)); d < least {
			least, words = d, m.words
		}
	}
	return words
}

func continuity(s *tester) result {
	r := result{outcome: Pass, sent: throughout, came: fmt.Sprintf("%d CONTINUITYs", s.watch.ohm), why: "so in each of them"}
	switch {
	case len(s.watch.ohms) > 0:
		r.outcome, r.came, r.why = Fail, strings.Join(s.watch.ohms, "; "), "an output that WELCOME does not claim"
	case s.watch.ohm == 0:
		r.outcome, r.why = Unsure, "the board offers CONTINUITY in WELCOME and never sent one"
	}
	return r
}
