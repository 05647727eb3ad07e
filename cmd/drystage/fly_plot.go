package main

import (
	"image/color"
	"io"
	"strings"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/text"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
	"gonum.org/v1/plot/vg/vgimg"
	"gonum.org/v1/plot/vg/vgsvg"

	"drystage/harness/chart"
	"drystage/sim"
)

// Sizes of the picture.
const (
	pictureWidth  = 32 * vg.Centimeter
	pictureHeight = 22 * vg.Centimeter
	headHeight    = 1.3 * vg.Centimeter // title and legend
	namesHeight   = 3.4 * vg.Centimeter // the events' names
	rightPad      = 2.8 * vg.Centimeter // the last event's name
	pad           = 0.35 * vg.Centimeter
)

var (
	// by stage; their lightness differs as well as their hue
	inks = [sim.MaxStages]color.Color{
		color.RGBA{R: 0x16, G: 0x3f, B: 0x6b, A: 255}, color.RGBA{R: 0xe0, G: 0x8a, B: 0x2e, A: 255},
		color.RGBA{R: 0x3d, G: 0x8a, B: 0x5b, A: 255}, color.RGBA{R: 0xa6, G: 0x4d, B: 0x79, A: 255},
	}
	faint = color.Gray{Y: 0xc8}
	grey  = color.Gray{Y: 0x40}
)

// draw writes the picture as .svg or .png: on the left the ascent, on the right the whole flight.
func (c *curves) draw(w io.Writer, ext string, events []sim.Event) error {
	var out vg.CanvasWriterTo
	if strings.EqualFold(ext, ".png") {
		out = vgimg.PngCanvas{Canvas: vgimg.NewWith(vgimg.UseWH(pictureWidth, pictureHeight), vgimg.UseDPI(120))}
	} else {
		out = vgsvg.New(pictureWidth, pictureHeight)
	}
	page := draw.New(out)
	page.FillPolygon(color.White, []vg.Point{{}, {X: pictureWidth}, {X: pictureWidth, Y: pictureHeight}, {Y: pictureHeight}})
	columns := c.columns(events)
	n := vg.Length(len(columns))
	grid := make([][]*plot.Plot, len(drawnQuantities))
	for q := range grid {
		for i, col := range columns {
			p, err := c.panel(q, col)
			if err != nil {
				return err
			}
			if i > 0 {
				p.Y.Label.Text = ""
			}
			grid[q] = append(grid[q], p)
		}
	}
	tiles := draw.Tiles{Rows: len(grid), Cols: len(columns), PadTop: headHeight + namesHeight, PadBottom: pad, PadLeft: pad, PadRight: rightPad, PadX: 2.4 * vg.Centimeter / n, PadY: pad}
	c.head(page)
	for q, row := range plot.Align(grid, tiles, page) {
		for i, cell := range row {
			p := grid[q][i]
			if q == 0 {
				columns[i].names(p.DataCanvas(cell), p)
			}
			p.Draw(cell)
		}
	}
	_, err := out.WriteTo(w)
	return err
}

// column is a span of time from the launch with the events that are marked in it.
type column struct {
	title string
	until float64 // s
	marks []chart.Mark
}

// columns splits the events between the ascent, where they come close together, and the whole flight.
func (c *curves) columns(events []sim.Event) []column {
	all := chart.Marks(events, c.set.Launch)
	end := 0.0
	for _, curve := range c.of[0] {
		if n := curve.Len(); n > 0 {
			end = max(end, curve.T[n-1])
		}
	}
	up := chart.Ascent(&c.set.Vehicle, events, c.set.Launch)
	if up == 0 || up > 0.7*end {
		return []column{{"whole flight", end, all}}
	}
	first, whole := column{title: "ascent", until: up}, column{title: "whole flight", until: end}
	for _, m := range all {
		if m.At <= up {
			first.marks = append(first.marks, m)
		} else {
			whole.marks = append(whole.marks, m)
		}
	}
	return []column{first, whole}
}

// style is our one kind of letters in a size.
func style(size vg.Length) text.Style {
	s := text.Style{Color: grey, Font: plot.DefaultFont, Handler: plot.DefaultTextHandler, YAlign: text.YCenter}
	s.Font.Variant, s.Font.Size = "Sans", size
	return s
}

// head writes the vehicle's name, and the stages' colours beside it.
func (c *curves) head(page draw.Canvas) {
	y := page.Max.Y - 0.65*vg.Centimeter
	page.FillText(style(14), vg.Point{X: page.Min.X + 2*pad, Y: y}, c.set.Vehicle.Name)
	x := page.Max.X - rightPad
	letters := style(11)
	for i := len(c.set.Vehicle.Stages) - 1; i >= 0; i-- {
		name := c.set.Vehicle.Stages[i].Name
		x -= letters.Width(name)
		page.FillText(letters, vg.Point{X: x, Y: y}, name)
		x -= 1.2 * vg.Centimeter
		page.StrokeLine2(c.stroke(i), x, y, x+vg.Centimeter, y)
		x -= 0.8 * vg.Centimeter
	}
}

// stroke is the line of a stage. Those of lower stages are wider, so that they show on both sides of the upper
// one's while they fly as one.
func (c *curves) stroke(stage int) draw.LineStyle {
	return draw.LineStyle{Color: inks[stage%len(inks)], Width: vg.Points(1.2 + 1.5*float64(stage))}
}

// panel draws one quantity in one span of time.
func (c *curves) panel(q int, col column) (*plot.Plot, error) {
	p := plot.New()
	p.Y.Label.Text = drawnQuantities[q].label
	p.X.Padding, p.Y.Padding = 0, 0
	for _, a := range []*plot.Axis{&p.X, &p.Y} {
		a.Color, a.Tick.Color, a.Label.TextStyle.Color, a.Tick.Label.Color = grey, grey, grey, grey
		a.LineStyle.Width, a.Tick.LineStyle.Width = vg.Points(0.6), vg.Points(0.6)
		a.Tick.Label.Font.Variant, a.Label.TextStyle.Font.Variant = "Sans", "Sans"
		a.Tick.Label.Font.Size, a.Label.TextStyle.Font.Size = 10, 11
	}
	if q == len(drawnQuantities)-1 {
		p.X.Label.Text = col.title + ": time since launch, s"
	}
	p.Add(col)
	for i := len(c.of[q]) - 1; i >= 0; i-- { // the top stage above the others
		curve := c.of[q][i].Clip(0, col.until).Thin(800)
		if curve.Len() == 0 {
			continue
		}
		l, err := plotter.NewLine(curve)
		if err != nil {
			return nil, err
		}
		l.LineStyle = c.stroke(i)
		p.Add(l)
	}
	p.X.Min, p.X.Max, p.Y.Min = 0, max(col.until, 1e-3), 0
	p.Y.Max = max(1.05*p.Y.Max, 1e-3)
	return p, nil
}

// Plot draws a thin upright line for each mark.
func (c column) Plot(canvas draw.Canvas, p *plot.Plot) {
	x, _ := p.Transforms(&canvas)
	for _, m := range c.marks {
		if m.At <= c.until {
			canvas.StrokeLine2(draw.LineStyle{Color: faint, Width: vg.Points(0.7)}, x(m.At), canvas.Min.Y, x(m.At), canvas.Max.Y)
		}
	}
}

// names writes the marks' names above a panel; those that would run into the one before move on, joined to
// their lines.
func (c column) names(canvas draw.Canvas, p *plot.Plot) {
	x, _ := p.Transforms(&canvas)
	letters := style(10)
	letters.Rotation, letters.XAlign = 0.87, text.XLeft
	const apart = 15 // points, of the slanting names
	line := draw.LineStyle{Color: faint, Width: vg.Points(0.7)}
	free := canvas.Min.X
	for _, m := range c.marks {
		at := x(m.At)
		put := max(at, free)
		free = put + vg.Points(apart)
		top := canvas.Max.Y
		canvas.StrokeLines(line, []vg.Point{{X: at, Y: top}, {X: put, Y: top + vg.Points(12)}})
		canvas.FillText(letters, vg.Point{X: put + vg.Points(1), Y: top + vg.Points(15)}, m.Name)
	}
}
