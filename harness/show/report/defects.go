package report

import (
	"fmt"
	"io"
	"strings"

	"drystage/harness"
	"drystage/harness/judge/defects"
)

// Defects writes which scenario of a suite catches which defect of a board, what slips through, and what each
// scenario is good for. The words say everything without colours.
func Defects(w io.Writer, m *defects.Matrix, opt Options) error {
	if len(m.Scenarios) == 0 || len(m.Defects) == 0 {
		return ErrEmpty
	}
	p := &matrixPage{newPage(w, opt), m}
	p.caught()
	p.unsure()
	p.slipped()
	p.unsound()
	p.scenarios()
	p.cover()
	p.line("")
	p.line("%s, %s: %d caught, %d slipped through, %d unsure", plural(len(m.Defects), "defect"), plural(len(m.Scenarios), "scenario"),
		len(m.WithAnswer(harness.Pass)), len(m.WithAnswer(harness.Fail)), len(m.WithAnswer(harness.Unsure)))
	return p.end("flown")
}

type matrixPage struct {
	*page
	m *defects.Matrix
}

// caught writes a line per defect that is caught, with the scenario that it fails by the most, and under it all
// that catch it.
func (p *matrixPage) caught() {
	list := p.m.WithAnswer(harness.Pass)
	if len(list) == 0 {
		return
	}
	name := p.widest(list)
	p.line("%s  caught by   share  failing by the most in", padRight("defect", name))
	for _, d := range list {
		s, _ := p.m.Worst(d)
		f := p.m.At(d, s).Finding
		share := "-"
		if f.HasMargin {
			share = Percent(f.Share)
		}
		line := fmt.Sprintf("%s  %9d  %6s  ", padRight(p.m.Defects[d].Name, name), len(p.m.CaughtBy(d)), share)
		p.line("%s%s", line, truncate(p.m.Scenarios[s].Name+": "+f.Text, p.width-columns(line)))
		p.item("  ", 2, p.catchers(d))
	}
}

func (p *matrixPage) widest(list []int) int {
	n := len("defect")
	for _, d := range list {
		n = max(n, columns(p.m.Defects[d].Name))
	}
	return n
}

// catchers names the scenarios that catch a defect; when that is most of them, those that don't.
func (p *matrixPage) catchers(d int) string {
	by := p.m.CaughtBy(d)
	sound := len(p.m.Scenarios) - len(p.m.Invalid())
	switch {
	case len(by) == sound && sound > 1:
		return "every scenario"
	case len(by) <= sound/2 || sound < 4:
		return p.names(by)
	}
	var others []int
	for s := range p.m.Scenarios {
		if p.m.Valid(s) && p.m.At(d, s).Answer != harness.Fail {
			others = append(others, s)
		}
	}
	return "every scenario but " + p.names(others)
}

func (p *matrixPage) names(scenarios []int) string {
	var out []string
	for _, s := range scenarios {
		out = append(out, Plain(p.m.Scenarios[s].Name))
	}
	return strings.Join(out, ", ")
}

// unsure writes the defects that no scenario fails on, but some can't tell. That is not caught.
func (p *matrixPage) unsure() {
	for _, d := range p.m.WithAnswer(harness.Unsure) {
		p.line("")
		in := p.m.UnsureIn(d)
		p.head(harness.Unsure, "UNSURE "+p.m.Defects[d].Name, fmt.Sprintf("no scenario fails, %d can't tell", len(in)))
		for _, s := range in {
			p.why(s, p.m.At(d, s), p.m.Defects[d].Name)
		}
		if len(in) == 0 {
			p.item("  ", 2, "no scenario passes on the honest board, so that none could show this defect")
		}
	}
}

// slipped writes the defects that no scenario sees, the accident each leads to, and what would show it.
func (p *matrixPage) slipped() {
	for _, d := range p.m.WithAnswer(harness.Fail) {
		x := p.m.Defects[d]
		p.line("")
		p.head(harness.Fail, "SLIPPED "+x.Name, plural(len(p.m.Scenarios)-len(p.m.Invalid()), "scenario")+" passed with it, none failed")
		p.fact("danger", x.Accident)
		p.fact("try", x.Hint)
	}
}

// unsound writes the scenarios that the honest board does not pass.
func (p *matrixPage) unsound() {
	for _, s := range p.m.Invalid() {
		c := p.m.Reference(s)
		p.line("")
		p.head(c.Answer, "PROVES NOTHING "+p.m.Scenarios[s].Name, "the honest board does not pass it")
		p.why(s, c, "")
	}
}

func (p *matrixPage) head(a harness.Answer, lead, text string) {
	p.item(p.colored(a, Plain(lead))+": ", columns(Plain(lead))+2, text)
}

// why writes what a flight that did not pass hung on, and the line that flies it again.
func (p *matrixPage) why(s int, c defects.Cell, defect string) {
	if !c.Flown {
		p.item("  ", 2, p.m.Scenarios[s].Name+" was not flown")
		return
	}
	p.item("  "+p.answer(c.Answer, 8), 10, p.m.Scenarios[s].Name+": "+c.Finding.Text)
	p.fact("why", c.Finding.Reason)
	opt := Options{}
	if defect != "" {
		opt.Repeat = " --board " + quote("mock:"+defect)
	}
	x := p.m.Scenarios[s]
	p.line("  repeat: %s", Repeat(&harness.Verdict{File: x.File, Seed: x.Seed}, &opt))
}

// scenarios writes how many defects each scenario catches, and which of them no other one does.
func (p *matrixPage) scenarios() {
	name := len("scenario")
	for _, s := range p.m.Scenarios {
		name = max(name, columns(Plain(s.Name)))
	}
	name = min(name, max(20, p.width/3))
	p.line("")
	p.line("%s  catches  alone", padRight("scenario", name))
	for s, x := range p.m.Scenarios {
		var alone []string
		for _, d := range p.m.Alone(s) {
			alone = append(alone, p.m.Defects[d].Name)
		}
		catches := fmt.Sprintf("%7d", len(p.m.Catches(s)))
		if !p.m.Valid(s) {
			catches = "      -"
		}
		lead := fmt.Sprintf("%s  %s  %5d", padRight(x.Name, name), catches, len(alone))
		if len(alone) == 0 {
			p.line("%s", lead)
			continue
		}
		p.item(lead+"  ", name+18, strings.Join(alone, ", "))
	}
}

func (p *matrixPage) cover() {
	set := p.m.Cover()
	if len(set) == 0 {
		return
	}
	p.line("")
	p.item("", 0, fmt.Sprintf("%d of %s catch all that is caught (a greedy choice; fewer may do):", len(set), plural(len(p.m.Scenarios), "scenario")))
	p.item("  ", 2, p.names(set))
}
