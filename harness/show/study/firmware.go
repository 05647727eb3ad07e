package study

import (
	"fmt"
	"io"

	"drystage/harness/judge/codecoverage"
	"drystage/harness/show/report"
)

type firmwareView struct {
	head
	Programs []firmwareProgram
}

// firmwareProgram is one firmware, and what flights have executed of it.
type firmwareProgram struct {
	Name, Lines, Ways string
	Files             []sourceFile
	Flights           []flightRow
}

type flightRow struct {
	Name, Lines, Ways string
	Alone             int
}

// sourceFile is a file with what is missing, and its text beside the counts.
type sourceFile struct {
	Name, Lines, Ways string
	Missing           []missingRow
	Text              []sourceLine
}

// missingRow is a line that was never executed, or a branch that went one way only.
type missingRow struct {
	Line       int
	What, Text string
}

type sourceLine struct {
	Number             int
	Class, Count, Ways string
	Text               string
}

// Firmware writes the page of what flights have executed of firmwares: what is missing, each flight, each line. source
// gives the lines of a file, none if it can't be read.
func Firmware(w io.Writer, suites []*codecoverage.Suite, source func(file string) []string) error {
	v := firmwareView{head: newHead(0, "What the flights have executed of the firmware", nil)}
	v.Answer = ""
	for _, s := range suites {
		v.Programs = append(v.Programs, programView(s, source))
	}
	return write(w, "firmware", &v)
}

func programView(s *codecoverage.Suite, source func(file string) []string) firmwareProgram {
	files := s.Files()
	t := codecoverage.Sum(files)
	p := firmwareProgram{Name: s.Program.File, Lines: codecoverage.Share(t.LinesHit, t.Lines), Ways: codecoverage.Share(t.WaysHit, t.Ways)}
	for i := range files {
		p.Files = append(p.Files, fileView(&files[i], source(files[i].Name)))
	}
	alone := s.Alone()
	for i, x := range s.Flown {
		p.Flights = append(p.Flights, flightRow{x.Name, codecoverage.Share(x.LinesHit, x.Lines), codecoverage.Share(x.WaysHit, x.Ways), alone[i]})
	}
	return p
}

func fileView(f *codecoverage.File, text []string) sourceFile {
	t := f.Total()
	v := sourceFile{Name: f.Name, Lines: codecoverage.Share(t.LinesHit, t.Lines), Ways: codecoverage.Share(t.WaysHit, t.Ways)}
	at := func(n int) string {
		if n <= len(text) {
			return report.Plain(text[n-1])
		}
		return ""
	}
	for n := range text {
		v.Text = append(v.Text, sourceLine{Number: n + 1, Text: report.Plain(text[n])})
	}
	for i := range f.Lines {
		l := &f.Lines[i]
		v.Missing = append(v.Missing, missingOf(l, at(l.Number))...)
		if l.Number <= len(v.Text) {
			v.Text[l.Number-1].count(l)
		}
	}
	return v
}

// missingOf lists what of a line is missing. The branches of a line that was never executed aren't listed.
func missingOf(l *codecoverage.Line, text string) (out []missingRow) {
	if l.Count == 0 {
		return []missingRow{{l.Number, "never executed", text}}
	}
	for _, b := range l.Branches {
		if what := b.Missing(); what != "" {
			out = append(out, missingRow{l.Number, fmt.Sprintf("%s: branch at 0x%x, executed %d times", what, b.Address, b.Fell+b.Jumped), text})
		}
	}
	return out
}

func (x *sourceLine) count(l *codecoverage.Line) {
	x.Count = fmt.Sprint(l.Count)
	hit := 0
	for _, b := range l.Branches {
		if b.Fell > 0 {
			hit++
		}
		if b.Jumped > 0 {
			hit++
		}
	}
	if n := 2 * len(l.Branches); n > 0 {
		x.Ways = fmt.Sprintf("%d/%d", hit, n)
		if hit < n {
			x.Class = "part"
		}
	}
	if l.Count == 0 {
		x.Class = "never"
	}
}
