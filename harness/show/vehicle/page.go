// Package vehicle draws a vehicle to scale from its file, and writes the page of a flight without boards: the drawing with
// its measures, the flight, where each body lands, and what is to be warned of. It flies nothing and reads no file.
package vehicle

import (
	"bytes"
	_ "embed"
	"fmt"
	"html/template"
	"io"
	"math"

	"drystage/harness/show/chart"
	"drystage/harness/show/report"
	"drystage/sim"
)

//go:embed page.html
var pageText string

var page = template.Must(template.New("vehicle").Funcs(template.FuncMap{"plain": report.Plain, "set": chart.Typeset}).Parse(pageText))

// Flight is what the page shows of a flight.
type Flight struct {
	Vehicle  *sim.Vehicle
	Under    string   // the name: the scenario, the seed
	Facts    []Fact   // the main numbers
	Warnings []string // none: nothing is to be warned of
	Text     string   // all of it in words
	// Plots draws quantities against time in a width, a title each.
	Plots  func(width float64) []Plot
	Bodies []Body
	Wind   Wind
}

// Fact is a number and what it is.
type Fact struct{ Word, Number string }

// Plot is a picture with its title.
type Plot struct {
	Title string
	*chart.Chart
}

// Body is what comes down by itself: its stages by name, its way over the ground, and where it lands.
type Body struct {
	Name        string
	Class       string // of its curves
	Track       [][2]float64
	Landed      bool
	East, North float64 // m from the pad
	Note        string
}

// Wind is the steady wind near the ground.
type Wind struct{ Speed, From float64 }

// figure is a picture in two widths.
type figure struct {
	Title  string
	Pics   []template.HTML
	Legend []key
}

type key struct{ Class, Text string }

// view is what the template sees.
type view struct {
	*Flight
	Style    template.CSS
	Script   template.JS
	Side     figure
	Plots    []figure
	Map      figure
	Balances []balance
}

// Write writes the page of a flight.
func Write(w io.Writer, f *Flight) error {
	v := view{Flight: f, Style: chart.Style, Script: template.JS(chart.Script), Side: figure{Title: "From the side, to scale"}, Map: f.ground(), Balances: balances(f.Vehicle)}
	for k, z := range chart.Sizes {
		v.Side.Pics = append(v.Side.Pics, html(side(f.Vehicle, z.Width), z.Class, "The vehicle from the side, to scale, with its measures, centres of gravity and pressure"))
		for i, p := range f.Plots(z.Width) {
			if k == 0 {
				v.Plots = append(v.Plots, figure{Title: p.Title, Legend: f.legend()})
			}
			v.Plots[i].Pics = append(v.Plots[i].Pics, html(p.Chart, z.Class, p.Title+": height, speed and acceleration against time"))
		}
	}
	var b bytes.Buffer
	if err := page.Execute(&b, &v); err != nil {
		return fmt.Errorf("page: %w", err)
	}
	return report.PlainPage(w, b.String())
}

// html is a picture as a part of the page; a chart makes no text markup.
func html(c *chart.Chart, class, what string) template.HTML {
	return template.HTML(c.SVG(class, what))
}

// legend names the curves of the stages.
func (f *Flight) legend() (list []key) {
	for i := range f.Vehicle.Stages {
		list = append(list, key{chart.StageClass(i), report.Plain(f.Vehicle.Stages[i].Name)})
	}
	return list
}

// ground is the map: the pad, the ways over the ground, the places of landing, the wind.
func (f *Flight) ground() figure {
	low, high := [2]float64{-20, -20}, [2]float64{20, 20}
	grow := func(x, y float64) {
		low[0], low[1], high[0], high[1] = min(low[0], x), min(low[1], y), max(high[0], x), max(high[1], y)
	}
	for i := range f.Bodies {
		for _, p := range f.Bodies[i].Track {
			grow(p[0], p[1])
		}
	}
	out := figure{Title: "Over the ground, m east and north of the pad"}
	for _, z := range chart.Sizes {
		p := chart.NewPlane(z.Width, 420, low, high, true)
		p.Grid("east, m", "north, m")
		for i := range f.Bodies {
			p.Path(f.Bodies[i].Class, f.Bodies[i].Track, false)
		}
		p.Dot("pad", 0, 0, 4, "the pad")
		for i := range f.Bodies {
			if b := &f.Bodies[i]; b.Landed {
				p.Dot("landed "+b.Class, b.East, b.North, 6, report.Plain(b.Name+": "+b.Note))
			}
		}
		f.wind(p)
		out.Pics = append(out.Pics, html(p.Chart, z.Class, "Map of the ground tracks and landing points, the pad in the middle of the axes"))
	}
	for i := range f.Bodies {
		b := &f.Bodies[i]
		out.Legend = append(out.Legend, key{b.Class, report.Plain(b.Name)})
	}
	return out
}

// wind draws an arrow that points the way the wind blows, above the map.
func (f *Flight) wind(p *chart.Plane) {
	text := "calm"
	if f.Wind.Speed > 0 {
		x, y, to := p.Width-168, 10.0, f.Wind.From+math.Pi
		dx, dy := math.Sin(to), -math.Cos(to)
		p.Shape("wind", fmt.Sprintf("M%.1f %.1fL%.1f %.1fM%.1f %.1fL%.1f %.1fL%.1f %.1f", x-9*dx, y-9*dy, x+9*dx, y+9*dy,
			x+9*dx-5*dx-3*dy, y+9*dy-5*dy+3*dx, x+9*dx, y+9*dy, x+9*dx-5*dx+3*dy, y+9*dy-5*dy-3*dx))
		text = fmt.Sprintf("wind %.1f m/s from %03.0f\u00b0", f.Wind.Speed, math.Mod(f.Wind.From*180/math.Pi+360, 360))
	}
	p.Text("axis end", p.Width-chart.Right, 12, "start", text)
}
