package report

import (
	"encoding/csv"
	"fmt"
	"io"
	"math"
	"strconv"

	"drystage/harness/judge/dispersion"
	"drystage/harness/show/parquet"
)

// Samples writes a sweep as a table in CSV with a row a flight, in SI. An empty cell is a number that could not be measured.
func Samples(w io.Writer, s *dispersion.Sheet) error {
	out := csv.NewWriter(w)
	columns := sampleColumns(s)
	row := make([]string, len(columns))
	for k, c := range columns {
		row[k] = c.Name
	}
	if err := out.Write(row); err != nil {
		return err
	}
	for i := range s.Flights {
		for k := range columns {
			row[k] = cell(&columns[k], i)
		}
		if err := out.Write(row); err != nil {
			return err
		}
	}
	out.Flush()
	return out.Error()
}

// SamplesParquet writes the same table as a Parquet file: each number has the same bits, and one without a value is null.
func SamplesParquet(w io.Writer, s *dispersion.Sheet) error {
	return parquet.Write(w, sampleColumns(s), len(s.Flights))
}

// cell writes what a row has; a number reads back as exactly the same.
func cell(c *parquet.Column, row int) string {
	switch {
	case c.Whole != nil:
		return strconv.FormatUint(c.Whole(row), 10)
	case c.Text != nil:
		return c.Text(row)
	}
	x, there := c.Number(row)
	if !there {
		return ""
	}
	return strconv.FormatFloat(x, 'g', -1, 64)
}

// sampleColumns are the columns of the table; a row is a flight.
func sampleColumns(s *dispersion.Sheet) (list []parquet.Column) {
	number := func(name, unit string, of func(f *dispersion.Flight) (x float64, there bool)) {
		if unit != "" {
			name += " [" + unit + "]"
		}
		list = append(list, parquet.Column{Name: name, Number: func(row int) (float64, bool) {
			x, there := of(&s.Flights[row])
			return x, there && !math.IsNaN(x)
		}})
	}
	text := func(name string, of func(f *dispersion.Flight) string) {
		list = append(list, parquet.Column{Name: name, Text: func(row int) string { return of(&s.Flights[row]) }})
	}
	list = append(list,
		parquet.Column{Name: "flight", Whole: func(row int) uint64 { return uint64(s.Flights[row].Number) }},
		parquet.Column{Name: "seed", Whole: func(row int) uint64 { return s.Flights[row].Seed }})
	text("answer", func(f *dispersion.Flight) string { return f.Answer.String() })
	for k, v := range s.Plan.Vary {
		number(v.Name, v.Unit, func(f *dispersion.Flight) (float64, bool) { return f.Values[k].Value, true })
	}
	for i := range s.Plan.Expect {
		text(fmt.Sprintf("answer %d", i+1), func(f *dispersion.Flight) string { return f.Answers[i].String() })
		number(fmt.Sprintf("margin %d", i+1), s.Units[i], func(f *dispersion.Flight) (float64, bool) { return f.Margins[i], true })
	}
	for k, x := range s.Plan.Setup.Vehicle.Stages {
		place := func(f *dispersion.Flight) (p dispersion.Place) {
			if k < len(f.Landed) {
				p = f.Landed[k]
			}
			return p
		}
		number(x.Name+" east", "m", func(f *dispersion.Flight) (float64, bool) { p := place(f); return p.East, p.OK })
		number(x.Name+" north", "m", func(f *dispersion.Flight) (float64, bool) { p := place(f); return p.North, p.OK })
	}
	return list
}
