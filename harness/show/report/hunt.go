package report

import (
	"io"
	"slices"
	"strings"

	"drystage/harness"
	"drystage/harness/judge/hunt"
)

// MarginText is a finding's margin in its own unit and as a share, as all reports write it; empty when it has none.
func MarginText(f *harness.Finding) string {
	if !f.HasMargin {
		return ""
	}
	return Margin(f) + ", " + Percent(f.Share)
}

// Hunt writes the worst that a search found of each expectation, and the worst of all, shrunk to a scenario, which
// is the text of file.
func Hunt(w io.Writer, f *hunt.Result, file string, opt Options) error {
	if len(f.Flights) == 0 {
		return ErrEmpty
	}
	p := newPage(w, opt)
	p.boards(opt.Seats)
	p.line("%s  %s  %6s  %s", padRight("worst", len("verdict")), padLeft("share", 7), "flight", "expectation")
	for _, d := range worstFirst(f) {
		i := hunt.Worst(f.Flights, d)
		m := f.Flights[i].Scores[d]
		share := "-"
		if measured(m) {
			share = Percent(m.Share)
		}
		p.line("%s  %s  %6d  %s", p.answer(m.Answer, len("verdict")), padLeft(share, 7), i+1, truncateAtComma(demandText(f, d), p.width-len("verdict  -100 %  flight    ")))
	}
	p.line("")
	p.line("%s through %s: %s", plural(len(f.Flights), "flight"), plural(len(f.Space.Vary), "range"), tallied(f))
	p.line("%d more to shrink the worst", f.Extra)
	p.line("")
	p.huntHeading(f)
	p.line("")
	for line := range strings.Lines(file) {
		p.line("    %s", strings.TrimSuffix(line, "\n"))
	}
	return p.w.Flush()
}

// worstFirst gives the demands, the worst first.
func worstFirst(f *hunt.Result) []int {
	var out []int
	for d := range f.Flights[0].Scores {
		out = append(out, d)
	}
	worst := func(d int) hunt.Score { return f.Flights[hunt.Worst(f.Flights, d)].Scores[d] }
	slices.SortStableFunc(out, func(a, b int) int { return worst(a).Compare(worst(b)) })
	return out
}

// tallied counts the answers of the flights.
func tallied(f *hunt.Result) (c harness.Count) {
	for _, x := range f.Flights {
		c.Add(slices.MinFunc(x.Scores, hunt.Score.Compare).Answer)
	}
	return c
}

// huntHeading says what the shrunk case shows.
func (p *page) huntHeading(f *hunt.Result) {
	x := f.Finding()
	word := strings.ToUpper(x.Answer.String())
	p.item(p.colored(x.Answer, word)+" ", len(word)+1, x.Text)
	p.fact("why", x.Reason)
	p.fact("margin", MarginText(&x))
	if x.Answer != harness.Pass {
		return
	}
	tried := "Nothing that the search tried failed."
	if f.Answer() != harness.Pass {
		tried = "This passed in all that the search tried; what did not pass stands above."
	}
	p.item("", 0, tried+" That is no proof: it tried few of the flights that may come.")
}
