package report

import (
	"fmt"
	"io"
	"strings"

	"drystage/harness/judge/ready"
)

// SheetText writes a readiness sheet for a terminal: the answer, what is open with what to do next, what
// only the field can prove, then all that it rests on. opt.Made is what judged the records.
func SheetText(w io.Writer, s *ready.Sheet, opt Options) error {
	if emptySheet(s) {
		return ErrEmpty
	}
	p := newPage(w, opt)
	p.item("Readiness sheet: ", 17, vehicleNames(s))
	p.verdictLine(s)
	p.item("", 0, noPermission)
	p.points(s)
	p.field()
	p.subject(s)
	p.outputs(s)
	p.calls(s)
	p.faults(s)
	p.records(s)
	p.line("")
	p.verdictLine(s)
	return p.end("looked for")
}

func (p *page) heading(text string) {
	p.line("")
	p.line("%s", text)
}

func (p *page) verdictLine(s *ready.Sheet) {
	for _, part := range wrap(headline(s), p.width) {
		p.line("%s", p.colored(s.Answer(), part))
	}
}

func (p *page) points(s *ready.Sheet) {
	p.heading("Open on the bench")
	if len(s.Points) == 0 {
		p.item("  ", 2, nothingOpen)
	} else {
		p.item("  ", 2, openNote)
	}
	for i := range s.Points {
		x := &s.Points[i]
		p.item(fmt.Sprintf("  [ ] %2d  ", i+1), 10, x.Text)
		if x.Next != "" {
			p.item("          next: ", 16, x.Next)
		}
		if len(x.Command) > 0 {
			p.line("          $ %s", strings.Join(commandWords(x.Command), " "))
		}
	}
}

func (p *page) field() {
	p.heading(fieldTitle)
	p.item("  ", 2, fieldNote)
	for _, x := range ready.Field() {
		p.item("  [ ] ", 6, x)
	}
}

func (p *page) subject(s *ready.Sheet) {
	p.heading("Vehicle and boards")
	p.item("  vehicle    ", 13, groupText(s.Vehicles))
	for i := range s.Boards {
		b := &s.Boards[i]
		p.item("  "+padRight(b.Role, 10)+" ", 13, boardText(b))
	}
	for _, v := range s.Versions {
		p.item("  flown by   ", 13, v.Name)
	}
	p.item("  judged by  ", 13, madeText(&p.opt.Made))
	p.item("  passed in  ", 13, daysText(&s.Days))
	p.item("  suite      ", 13, suiteText(&s.Suite))
}

func (p *page) outputs(s *ready.Sheet) {
	p.heading("Outputs")
	p.item("  ", 2, outputsNote)
	for i := range s.Outputs {
		o := &s.Outputs[i]
		p.item("  ", 2, o.Role+"."+o.Name+": "+outputText(o))
		p.item("    demanded  ", 14, countsText(o.Demands))
		p.item("    fired     ", 14, firedText(o))
		if len(o.Known) > 0 {
			p.item("    time by   ", 14, countsText(o.Known))
		}
		if c := o.Closest; c != nil {
			p.item("    closest   ", 14, callText(c)+", in "+c.Scenario+": "+c.Finding.Text)
			p.line("              %s", Plain(c.Finding.Place.String()))
		}
	}
}

func (p *page) calls(s *ready.Sheet) {
	p.heading("The closest calls of all")
	if len(s.Closest) == 0 {
		p.line("  nothing here has a margin")
	}
	for i := range s.Closest {
		c := &s.Closest[i]
		p.item(fmt.Sprintf("  %7s  %s  ", Percent(c.Finding.Share), padLeft(Margin(&c.Finding), 12)), 25, fmt.Sprintf("%s (%s): %s", c.Scenario, paceText(c.RealTime), c.Finding.Text))
		p.line("%s%s", strings.Repeat(" ", 25), Plain(c.Finding.Place.String()))
	}
}

func (p *page) faults(s *ready.Sheet) {
	p.heading("Faults tried")
	p.item("  ", 2, faultsNote)
	if rows := faultRows(&s.Tried, false); len(rows) > 0 {
		var b strings.Builder
		faultTable(&b, rows)
		for line := range strings.Lines(b.String()) {
			p.line("  %s", strings.TrimRight(line, "\n"))
		}
	}
	if never := neverTried(&s.Tried); len(never) > 0 {
		p.item("  never tried: ", 15, strings.Join(never, ", "))
	}
}

// records lists what the sheet rests on, and ends with its digest and a line to sign.
func (p *page) records(s *ready.Sheet) {
	p.heading("Records, each with its SHA-256 and that of its scenario's files")
	for _, x := range s.Scenarios {
		for i := range x.Records {
			r := &x.Records[i]
			p.item("  ", 2, fmt.Sprintf("%s, %s: %s, %s, seed %d", x.Name, x.Title, r.Answer, paceText(r.RealTime), r.Seed))
			for _, f := range r.Files {
				p.line("    file      %s", Plain(f))
			}
			p.line("    record    %s", Plain(r.Sum))
			p.line("    scenario  %s", Plain(r.Digest))
		}
	}
	p.heading("Digest of this sheet")
	p.line("  %s", sheetDigest(s))
	p.item("  ", 2, digestNote)
	p.heading("name ____________________  date ________________  signature ____________________")
}
