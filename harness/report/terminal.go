package report

import (
	"bufio"
	"fmt"
	"io"
	"strings"

	"drystage/harness"
)

// Terminal writes a table with a line per scenario, its verdict and its closest margin, then every
// finding that is not a pass, each with what was wanted, what was seen and why, and the line that
// repeats the scenario.
func Terminal(w io.Writer, vs []harness.Verdict, opt Options) error {
	if len(vs) == 0 {
		return ErrEmpty
	}
	p := &page{w: bufio.NewWriter(w), opt: opt, width: opt.Width}
	if p.width == 0 {
		p.width = 80
	}
	p.table(vs)
	for i := range vs {
		if vs[i].Answer != harness.Pass {
			p.trouble(&vs[i])
		}
	}
	p.line("")
	p.line("%s: %s", plural(len(vs), "scenario"), count(vs))
	return p.w.Flush()
}

type page struct {
	w     *bufio.Writer
	opt   Options
	width int
}

func (p *page) line(format string, a ...any) { fmt.Fprintf(p.w, format+"\n", a...) }

// table writes the lines of all scenarios.
func (p *page) table(vs []harness.Verdict) {
	name := len("scenario")
	for i := range vs {
		name = max(name, columns(plain(vs[i].Name)))
	}
	name = min(name, 24)
	p.line("%s  verdict  closest margin      of", pad("scenario", name))
	for i := range vs {
		v := &vs[i]
		row := fmt.Sprintf("%s  %s", pad(v.Name, name), p.colored(v.Answer, pad(v.Answer.String(), 7)))
		if f, ok := v.Closest(); ok {
			row += fmt.Sprintf("  %11s %6s  %s", margin(&f), percent(f.Share), cut(f.Text, p.width-name-32))
		}
		p.line("%s", strings.TrimRight(row, " "))
	}
}

// trouble writes all findings of a scenario that did not pass.
func (p *page) trouble(v *harness.Verdict) {
	p.line("")
	p.head("", v.Answer, strings.ToUpper(v.Answer.String())+" ", v.Name+": "+v.Title)
	for _, f := range findings(v) {
		if f.Answer == harness.Pass {
			continue
		}
		p.head("  ", f.Answer, f.Answer.String()+": ", f.Text)
		if at := f.Place.String(); at != "" {
			p.item("at", at)
		}
		p.item("wanted", f.Wanted)
		p.item("seen", f.Seen)
		p.item("why", f.Reason)
		if f.HasMargin {
			p.item("margin", margin(&f)+", "+percent(f.Share))
		}
	}
	p.line("  repeat: %s", repeat(v, &p.opt))
}

// head writes a painted word and its text, wrapped.
func (p *page) head(indent string, a harness.Answer, word, text string) {
	lead := indent + p.colored(a, word)
	for _, part := range wrap(text, p.width-columns(indent+word)) {
		p.line("%s%s", lead, part)
		lead = strings.Repeat(" ", columns(indent+word))
	}
}

// item writes a word and its text, wrapped.
func (p *page) item(word, text string) {
	if text == "" {
		return
	}
	const indent = 12
	for i, part := range wrap(text, p.width-indent) {
		if i > 0 {
			word = ""
		}
		p.line("    %-7s %s", word, part)
	}
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
