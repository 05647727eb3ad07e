// Package report writes verdicts for people and for other programs: terminal text, JSON, JUnit XML. It
// never judges, and never leaves out a finding that is not a pass. A suite without scenarios is an
// error in every format, never a success.
package report

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strconv"
	"time"

	"drystage/harness"
	"drystage/harness/judge/compare"
)

// Options are what a report needs to know beyond its verdicts.
type Options struct {
	Width int  // columns of the terminal; 0: 80
	Color bool // of terminal text; the words say everything without it

	Command string // that a line which repeats a scenario begins with; "": drystage bench
	Repeat  string // arguments that a line which repeats a scenario needs, such as " --board 'mock:x'"

	Seats   []harness.BoardAddress // where the boards are, of reports that have no verdicts to tell
	Against *compare.Comparison    // with earlier records; nil: none
	Foreign []string               // files below the folders of the suite that are none of drystage's

	// The run that made the verdicts. A zero Began says that old records were judged again.
	Began time.Time
	Took  time.Duration
	Host  string
	Made  harness.Maker
}

// ErrEmpty says that there was nothing to report.
var ErrEmpty = errors.New("report: no scenario was flown; an empty suite proves nothing")

// Findings gives a verdict's findings. If none of them says why it is not a pass, one more does, so that
// no format can show such a verdict as all green.
func Findings(v *harness.Verdict) []harness.Finding {
	if v.Answer == harness.Pass && len(v.Findings) > 0 {
		return v.Findings
	}
	for _, f := range v.Findings {
		if f.Answer != harness.Pass {
			return v.Findings
		}
	}
	return append(slices.Clip(v.Findings), harness.Finding{
		Text: "the verdict has a finding that explains it", Place: harness.Place{File: v.File},
		Reason: fmt.Sprintf("it says %s, and none of its %d findings says why", v.Answer, len(v.Findings)),
	})
}

// Margin writes a finding's margin with its sign and unit.
func Margin(f *harness.Finding) string {
	form := byte('f')
	if math.Abs(f.Margin) >= 1e9 {
		form = 'g'
	}
	s := strconv.FormatFloat(round(f.Margin, 3), form, -1, 64)
	if f.Margin >= 0 && s[0] != '+' {
		s = "+" + s
	}
	if f.Unit != "" {
		s += " " + f.Unit
	}
	return s
}

// Percent writes the share of a margin, see harness.Finding.
func Percent(share float64) string {
	switch x := math.Round(share * 100); {
	case math.IsNaN(x):
		return "NaN %"
	case x > 999:
		return ">999 %"
	case x < -999:
		return "<-999 %"
	default:
		return strconv.Itoa(int(x)) + " %"
	}
}

// round keeps a number of decimals, at least as many as show three digits. What is too large for that
// stays as it is.
func round(x float64, decimals int) float64 {
	for a := math.Abs(x); a > 0 && a < 0.1 && decimals < 9; a *= 10 {
		decimals++
	}
	p := math.Pow(10, float64(decimals))
	if y := math.Round(x*p) / p; !math.IsInf(y, 0) {
		return y
	}
	return x
}

// sampling is the argument of a sweep for its points, with a blank before it.
func sampling(p harness.Points) string {
	if p == harness.Random {
		return ""
	}
	return " --sampling " + p.String()
}

// Repeat is the line to paste that flies a scenario again.
func Repeat(v *harness.Verdict, opt *Options) string {
	command := opt.Command
	if command == "" {
		command = "drystage bench"
	}
	seed, again := v.Seed, Plain(opt.Repeat)
	if v.Drawn.Flight > 0 {
		command, seed, again = "drystage sweep", v.Drawn.Seed, fmt.Sprintf("%s --only %d%s", sampling(v.Drawn.Points), v.Drawn.Flight, again)
	}
	return fmt.Sprintf("%s %s --seed %d%s", Plain(command), quote(Plain(v.File)), seed, again)
}
