// Package published reads the published tables of testdata for tests; the first lines of each table give its
// source. It isn't part of the product, and never writes.
package published

import (
	"encoding/csv"
	"fmt"
	"os"
	"strconv"
)

// Rows gives the rows of a table below its comments and its header. Another number of rows than wanted is an error,
// so that a truncated table is noticed.
func Rows(name string, want int) ([][]string, error) {
	f, err := os.Open(name)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	table := csv.NewReader(f)
	table.Comment = '#'
	rows, err := table.ReadAll()
	switch {
	case err != nil:
		return nil, fmt.Errorf("%s: %w", name, err)
	case len(rows) != want+1:
		return nil, fmt.Errorf("%s: found %d rows, wanted a header and %d", name, len(rows), want)
	}
	return rows[1:], nil
}

// Numbers gives a table of numbers alone.
func Numbers(name string, want int) (out [][]float64, err error) {
	rows, err := Rows(name, want)
	if err != nil {
		return nil, err
	}
	for _, row := range rows {
		x := make([]float64, len(row))
		for i, cell := range row {
			if x[i], err = strconv.ParseFloat(cell, 64); err != nil {
				return nil, fmt.Errorf("%s: %w", name, err)
			}
		}
		out = append(out, x)
	}
	return out, nil
}
