// Package study writes pages about many flights: a sweep, a search for the worst case, a suite tried on known defects. It
// takes what was found, and neither flies nor judges.
package study

import (
	"bytes"
	_ "embed"
	"fmt"
	"html/template"
	"io"

	"drystage/harness"
	"drystage/harness/show/chart"
	"drystage/harness/show/report"
)

//go:embed study.html
var pageText string

var pages = template.Must(template.New("study").Funcs(template.FuncMap{
	"plain": report.Plain, "set": chart.Typeset, "answer": func(a harness.Answer) string { return a.String() },
}).Parse(pageText))

// head is what all pages begin with.
type head struct {
	Style  template.CSS
	Script template.JS
	Answer string
	Title  string
	Seats  []harness.BoardAddress
}

func newHead(a harness.Answer, title string, seats []harness.BoardAddress) head {
	return head{chart.Style, template.JS(chart.Script), a.String(), report.Plain(title), seats}
}

// figure is a picture in the widths of a page, of which the one that fits is shown.
type figure struct {
	Title  string
	Pics   []template.HTML
	Legend []key
}

type key struct{ Class, Text string }

// draw makes a figure of what a function draws in a width.
func draw(title, says string, of func(width float64) *chart.Chart) figure {
	f := figure{Title: title}
	for _, z := range chart.Sizes {
		f.Pics = append(f.Pics, template.HTML(of(z.Width).SVG(z.Class, says))) // a chart makes no text markup
	}
	return f
}

// write writes one of the pages.
func write(w io.Writer, name string, view any) error {
	var b bytes.Buffer
	if err := pages.ExecuteTemplate(&b, name, view); err != nil {
		return fmt.Errorf("page: %w", err)
	}
	return report.PlainPage(w, b.String())
}

// plural counts things.
func plural(n int, what string) string {
	if n == 1 {
		return "1 " + what
	}
	return fmt.Sprintf("%d %ss", n, what)
}
