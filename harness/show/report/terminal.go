package report

import (
	"bufio"
	"fmt"
	"io"
	"slices"
	"strings"

	"drystage/harness"
)

// Terminal writes a table with a line per scenario: its verdict, and the margin of the expectation that
// decided it. Then every finding that is not a pass, each with what was wanted, what was seen and why,
// and the line that repeats the scenario. No line is wider than the terminal but places in files and
// the lines to paste, which stay whole.
func Terminal(w io.Writer, vs []harness.Verdict, opt Options) error {
	if len(vs) == 0 {
		return ErrEmpty
	}
	p := newPage(w, opt)
	p.boards(seats(vs))
	p.table(vs)
	for i := range vs {
		if vs[i].NotFlown == "" && slices.ContainsFunc(Findings(&vs[i]), notPassed) {
			p.details(&vs[i])
		}
	}
	p.warned(vs)
	p.timing(vs)
	p.answers(vs)
	p.line("")
	missing := ""
	if n := harness.NotFlown(vs); n > 0 {
		missing = fmt.Sprintf("; %d of them not flown", n)
	}
	p.line("%s: %s%s", plural(len(vs), "scenario"), harness.Tally(vs), missing)
	return p.end("flown")
}

// warned tells what there is to warn of about the flights themselves. What leaves a verdict unsure is a
// finding, and told there.
func (p *page) warned(vs []harness.Verdict) {
	first := true
	for i := range vs {
		for k := range vs[i].Warned {
			if w := &vs[i].Warned[k]; w.Outside && !w.Accepted {
				continue
			}
			if first {
				p.line("")
				p.line("Warnings of the flights (drystage explain warnings):")
				first = false
			}
			p.item("  ", 4, vs[i].Name+": "+vs[i].Warned[k].String())
		}
	}
}

func notPassed(f harness.Finding) bool { return f.Answer != harness.Pass }

type page struct {
	w     *bufio.Writer
	opt   Options
	width int
}

// newPage is a page as wide as the options say, or 80 columns.
func newPage(w io.Writer, opt Options) *page {
	p := &page{w: bufio.NewWriter(w), opt: opt, width: opt.Width}
	if p.width == 0 {
		p.width = 80
	}
	return p
}

// end names what was left out, and is the last line.
func (p *page) end(done string) error {
	if err := Foreign(p.w, p.opt.Foreign, done); err != nil {
		return err
	}
	return p.w.Flush()
}

func (p *page) line(format string, a ...any) { fmt.Fprintf(p.w, format+"\n", a...) }

// row is a line of the table.
type row struct{ name, answer, margin, share, text string }

// table writes the lines of all scenarios, each column as wide as it has to be.
func (p *page) table(vs []harness.Verdict) {
	rows := []row{{"scenario", "verdict", "margin", "share", "closest expectation"}}
	for i := range vs {
		v := &vs[i]
		r := row{name: v.Name, answer: v.Answer.String(), margin: "-", share: "-", text: "nothing here has a margin"}
		if f, ok := Deciding(v); v.NotFlown != "" {
			r.text = "not flown: " + v.NotFlown
		} else if ok {
			r.text = f.Text
			if f.HasMargin {
				r.margin, r.share = Margin(&f), Percent(f.Share)
			}
		}
		rows = append(rows, r)
	}
	var name, room, share int
	for _, r := range rows {
		name, room, share = max(name, columns(Plain(r.name))), max(room, columns(Plain(r.margin))), max(share, columns(r.share))
	}
	name, room = min(name, max(20, p.width/4)), min(room, 16)
	left := p.width - name - len("  verdict  ") - room - len("  ") - share - len("  ")
	for i, r := range rows {
		answer := r.answer
		if i > 0 {
			answer = p.answer(vs[i-1].Answer, len("verdict"))
		}
		line := fmt.Sprintf("%s  %s  %s  %s  %s", padRight(r.name, name), answer, padLeft(r.margin, room), padLeft(r.share, share), truncateAtComma(r.text, left))
		p.line("%s", strings.TrimRight(line, " "))
	}
}

// Deciding gives the finding that a verdict hangs on, even when none of its own says why it is not a pass.
// ok is false for a pass without any margin.
func Deciding(v *harness.Verdict) (f harness.Finding, ok bool) {
	explained := harness.Verdict{Answer: v.Answer, Findings: Findings(v)}
	return explained.Deciding()
}

// details writes all findings of a scenario that are not a pass.
func (p *page) details(v *harness.Verdict) {
	p.line("")
	word := strings.ToUpper(v.Answer.String())
	p.item(p.colored(v.Answer, word)+" ", len(word)+1, v.Name+": "+v.Title)
	list := slices.Clone(Findings(v))
	if said := Failed(v); said != "" {
		p.line("  %s", said)
	}
	mostDangerousFirst(list)
	doubted := false
	for _, f := range list {
		if !notPassed(f) {
			continue
		}
		doubted = doubted || ofRun(f)
		p.finding(&f, doubted && f.Answer == harness.Unsure && !ofRun(f) && !f.HasMargin)
	}
	p.line("  repeat: %s", Repeat(v, &p.opt))
}

// Failed counts the expectations of a verdict that did not pass, in words; empty if all did.
func Failed(v *harness.Verdict) string {
	var c harness.Count
	for _, f := range v.Findings {
		if !ofRun(f) {
			c.Add(f.Answer)
		}
	}
	switch {
	case c.Fail > 0 && c.Unsure > 0:
		return fmt.Sprintf("%d of %s failed, %d unsure", c.Fail, plural(c.All(), "expectation"), c.Unsure)
	case c.Fail > 0:
		return fmt.Sprintf("%d of %s failed", c.Fail, plural(c.All(), "expectation"))
	case c.Unsure > 0:
		return fmt.Sprintf("%d of %s unsure", c.Unsure, plural(c.All(), "expectation"))
	}
	return ""
}

// NotPassed gives the expectations that did not pass, those first whose failure is the most dangerous.
func NotPassed(v *harness.Verdict) []harness.Finding {
	list := slices.DeleteFunc(slices.Clone(v.Findings), func(f harness.Finding) bool { return ofRun(f) || !notPassed(f) })
	mostDangerousFirst(list)
	return list
}

func mostDangerousFirst(list []harness.Finding) {
	slices.SortStableFunc(list, func(a, b harness.Finding) int { return findingOrder(a) - findingOrder(b) })
}

// ofRun says that a finding is about the run itself, not about an expectation in a file.
func ofRun(f harness.Finding) bool { return f.Place.Line == 0 }

// findingOrder orders findings: failures, the most dangerous first, then what leaves the whole run in doubt, then the rest.
func findingOrder(f harness.Finding) int {
	switch {
	case f.Answer == harness.Fail && !ofRun(f):
		return -1 - int(f.Danger)
	case ofRun(f):
		return 0
	}
	return 1
}

// finding writes one finding; briefly, when the doubt about the run already says why.
func (p *page) finding(f *harness.Finding, brief bool) {
	p.item("  "+p.answer(f.Answer, 8), 10, f.Text)
	if brief {
		return
	}
	if at := f.Place.String(); at != "" {
		p.line("    at      %s", Plain(at))
	}
	p.fact("wanted", f.Wanted)
	p.fact("seen", f.Seen)
	p.fact("why", f.Reason)
	if f.HasMargin {
		p.fact("margin", Margin(f)+", "+Percent(f.Share))
	}
}

// fact writes a word and what there is to say on it, if anything.
func (p *page) fact(word, text string) {
	if text != "" {
		p.item(fmt.Sprintf("    %-8s", word), 12, text)
	}
}

// item writes a text, wrapped, after a lead that takes some columns.
func (p *page) item(lead string, taken int, text string) {
	for _, part := range wrap(text, p.width-taken) {
		p.line("%s%s", lead, part)
		lead = strings.Repeat(" ", taken)
	}
}

// answer writes an answer, painted, in n columns.
func (p *page) answer(a harness.Answer, n int) string {
	return p.colored(a, a.String()) + strings.Repeat(" ", n-len(a.String()))
}

// colored paints a text by its answer.
func (p *page) colored(a harness.Answer, text string) string {
	if !p.opt.Color {
		return text
	}
	code := map[harness.Answer]string{harness.Pass: "32", harness.Fail: "1;31", harness.Unsure: "33"}[a]
	return "\x1b[" + code + "m" + text + "\x1b[0m"
}

func plural(n int, what string) string {
	if n == 1 {
		return "1 " + what
	}
	return fmt.Sprintf("%d %ss", n, what)
}
