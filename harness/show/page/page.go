package page

import (
	"bytes"
	_ "embed"
	"fmt"
	"html/template"
	"io"
	"math"
	"strings"

	"drystage/harness/show/chart"
	"drystage/harness/show/report"
)

//go:embed page.html
var pageText string

var page = template.Must(template.New("page").Funcs(template.FuncMap{
	"set": chart.Typeset,
	"num": func(x float64) string { return strings.Replace(fmt.Sprintf("%.0f", math.Round(x)+0), "-", "\u2212", 1) },
}).Parse(pageText))

// Write writes the page of a run: first the answer and a table of all scenarios, the worst first, then a section
// for each in that order. Of the options Command and Repeat count; without Repeat the lines to paste have what the
// records tell. No runs are report.ErrEmpty.
func Write(w io.Writer, runs []Summary, opt report.Options) error {
	if len(runs) == 0 {
		return report.ErrEmpty
	}
	var b bytes.Buffer
	if err := page.Execute(&b, newView(runs, &opt)); err != nil {
		return fmt.Errorf("page: %w", err)
	}
	return report.PlainPage(w, b.String())
}
