package main

import (
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"text/tabwriter"

	"drystage/harness"
	"drystage/harness/judge/codecoverage"
	"drystage/harness/run"
	"drystage/harness/show/study"
)

// firmwareCoverage collects what flights execute of the firmwares of emulated chips, and writes it into a folder.
type firmwareCoverage struct {
	dir    string // empty: nobody asked
	suites []*codecoverage.Suite
}

// open reads the firmwares of plans' boards, and makes the folder.
func (f *firmwareCoverage) open(boards []string, plans []harness.Plan) error {
	if f.dir == "" {
		return nil
	}
	addresses, err := run.Addresses(boards, plans)
	if err != nil {
		return status{misused, err}
	}
	for _, a := range addresses {
		file := run.Firmware(a.Address)
		if file == "" || f.of(file) != nil {
			continue
		}
		p, err := codecoverage.Open(file)
		if err == nil && !p.HasLines() {
			err = fmt.Errorf("%s: %w", file, codecoverage.ErrNoLines)
		}
		if err != nil {
			return status{misused, err}
		}
		f.suites = append(f.suites, codecoverage.NewSuite(p))
	}
	if len(f.suites) == 0 {
		return wrongUse("--firmware-coverage: no board here is an emulated chip, whose address begins with avr:; see `drystage explain wiring`")
	}
	return makeFolder(filepath.Join(f.dir, "scenarios"), plans)
}

func (f *firmwareCoverage) of(file string) *codecoverage.Suite {
	for _, s := range f.suites {
		if s.Program.File == file {
			return s
		}
	}
	return nil
}

// add takes what a flight has counted. A board that never came up has counted nothing.
func (f *firmwareCoverage) add(b *run.Bench, p *harness.Plan) error {
	if f.dir == "" {
		return nil
	}
	var out strings.Builder
	for _, s := range f.suites {
		sum, err := countsOf(b, s.Program.File, p)
		if err != nil {
			return err
		}
		if err := codecoverage.WriteLCOV(&out, p.Name, s.Add(p.Name, &sum)); err != nil {
			return err
		}
	}
	return os.WriteFile(filepath.Join(f.dir, "scenarios", p.Name+".info"), []byte(out.String()), 0o644)
}

// countsOf takes what the chips with a firmware have counted in a flight.
func countsOf(b *run.Bench, firmware string, p *harness.Plan) (sum codecoverage.Counts, err error) {
	for _, a := range b.Addresses([]harness.Plan{*p}) {
		if run.Firmware(a.Address) != firmware {
			continue
		}
		file := b.CountsFile(p, a.Role)
		c, err := codecoverage.Read(file)
		if os.IsNotExist(err) {
			continue
		} else if err != nil {
			return sum, err
		}
		sum.Add(&c)
		if err := os.Remove(file); err != nil {
			return sum, err
		}
	}
	return sum, nil
}

// write writes what the whole suite has executed, and tells of it.
func (f *firmwareCoverage) write(d *console, format string) error {
	if f.dir == "" {
		return nil
	}
	for _, x := range []struct {
		name  string
		write func(io.Writer) error
	}{
		{"firmware.info", f.lcov},
		{"index.html", func(w io.Writer) error {
			return writePrintable(w, func(w io.Writer) error { return study.Firmware(w, f.suites, sourceLines) })
		}},
	} {
		if err := writeWhole(filepath.Join(f.dir, x.name), x.write); err != nil {
			return status{misused, err}
		}
	}
	if format != "text" {
		return nil
	}
	for _, s := range f.suites {
		if err := firmwareText(d.out, s); err != nil {
			return err
		}
	}
	sayf(d.out, "firmware coverage: %s\n", filepath.Join(f.dir, "index.html"))
	return nil
}

func (f *firmwareCoverage) lcov(w io.Writer) error {
	for _, s := range f.suites {
		if err := codecoverage.WriteLCOV(w, "suite", s.Files()); err != nil {
			return err
		}
	}
	return nil
}

// sourceLines reads a source file; none if it isn't where the compiler found it.
func sourceLines(file string) []string {
	text, err := os.ReadFile(file)
	if err != nil {
		return nil
	}
	return strings.Split(string(text), "\n")
}

// firmwareText writes a row a source file.
func firmwareText(w io.Writer, s *codecoverage.Suite) error {
	sayf(w, "\n%s, executed in %s\n\n", s.Program.File, count(len(s.Flown), "flight"))
	t := tabwriter.NewWriter(w, 0, 0, 2, ' ', 0)
	fmt.Fprintln(t, "source\tlines\tways of branches")
	files := s.Files()
	for i := range files {
		coverageRow(t, codecoverage.Place{File: files[i].Name}.Base(), files[i].Total())
	}
	coverageRow(t, "all", codecoverage.Sum(files))
	return t.Flush()
}

func coverageRow(w io.Writer, name string, t codecoverage.Total) {
	sayf(w, "%s\t%s\t%s\n", name, codecoverage.Share(t.LinesHit, t.Lines), codecoverage.Share(t.WaysHit, t.Ways))
}
