package report

import (
	"encoding/csv"
	"fmt"
	"io"
	"math"
	"strconv"

	"drystage/harness/judge/dispersion"
)

// Samples writes a table (RFC 4180) with a row for each flight of a sweep, in SI, for notebooks: its number, its seed, its answer, what was
// drawn, answer and margin of each expectation by its number, and where each stage landed. A cell is empty where nothing could be measured.
func Samples(w io.Writer, s *dispersion.Sheet) error {
	out := csv.NewWriter(w)
	if err := out.Write(sampleHeader(s)); err != nil {
		return err
	}
	for i := range s.Flights {
		if err := out.Write(sampleRow(s, &s.Flights[i])); err != nil {
			return err
		}
	}
	out.Flush()
	return out.Error()
}

func sampleHeader(s *dispersion.Sheet) []string {
	row := []string{"flight", "seed", "answer"}
	withUnit := func(name, unit string) string {
		if unit == "" {
			return name
		}
		return name + " [" + unit + "]"
	}
	for _, v := range s.Plan.Vary {
		row = append(row, withUnit(v.Name, v.Unit))
	}
	for i := range s.Plan.Expect {
		row = append(row, fmt.Sprintf("answer %d", i+1), withUnit(fmt.Sprintf("margin %d", i+1), s.Units[i]))
	}
	for _, x := range s.Plan.Setup.Vehicle.Stages {
		row = append(row, x.Name+" east [m]", x.Name+" north [m]")
	}
	return row
}

func sampleRow(s *dispersion.Sheet, f *dispersion.Flight) []string {
	row := []string{strconv.Itoa(f.Number), strconv.FormatUint(f.Seed, 10), f.Answer.String()}
	number := func(x float64, there bool) string {
		if !there || math.IsNaN(x) {
			return ""
		}
		return strconv.FormatFloat(x, 'g', -1, 64)
	}
	for k := range s.Plan.Vary {
		row = append(row, number(f.Values[k].Value, true))
	}
	for i := range s.Plan.Expect {
		row = append(row, f.Answers[i].String(), number(f.Margins[i], true))
	}
	for k := range s.Plan.Setup.Vehicle.Stages {
		var p dispersion.Place
		if k < len(f.Landed) {
			p = f.Landed[k]
		}
		row = append(row, number(p.East, p.OK), number(p.North, p.OK))
	}
	return row
}
