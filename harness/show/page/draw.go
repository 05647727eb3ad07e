package page

import (
	"html/template"

	"drystage/harness/show/chart"
)

// drawing is one picture of a run being made.
type drawing struct {
	*Summary
	*chart.Chart
	tooltips bool    // somebody may point at things: what is narrow is for fingers; a table has the same for passes among many
	off      float64 // curves are straightened by this share of their range
}

// tooltip is the text shown when the pointer is over something; none in the narrow picture.
func (d *drawing) tooltip(text string) string {
	if d.tooltips {
		return text
	}
	return ""
}

// draw draws all of it from top to bottom.
func (d *drawing) draw(named, tall, low float64) {
	names := d.within(named)
	y := chart.Head + d.BannerHeight(names)
	height := d.Panel(y, y+tall)
	speed := d.Panel(y+tall+14, y+tall+14+low)
	frame := d.Panel(y, speed.Bottom+6+d.room())
	d.Height = frame.Bottom + chart.FootClocks
	frame.VerticalGrid(true)
	frame.Clocks(d.launch)
	frame.Moments(names, d.until(named))
	height.Banner(names)
	d.curves(height, "height, m", func(b *body) chart.Line { return b.height })
	d.curves(speed, "speed, m/s", func(b *body) chart.Line { return b.speed })
	d.drawLanes(speed.Bottom + 6)
}

// within are the events in the picture after an instant.
func (d *drawing) within(named float64) (names []chart.Mark) {
	for _, m := range d.marks {
		if m.At > named && m.At >= d.From && m.At <= d.Until {
			names = append(names, m)
		}
	}
	return names
}

// until are the events up to an instant, whose names another picture has.
func (d *drawing) until(named float64) (list []chart.Mark) {
	for _, m := range d.marks {
		if m.At <= named {
			list = append(list, m)
		}
	}
	return list
}

// html is the picture as a part of a page; a chart makes no text markup.
func (d *drawing) html(class, what string) template.HTML {
	return template.HTML(d.SVG(class, what))
}

// curves draws a quantity of all bodies, the top one above the others.
func (d *drawing) curves(p *chart.Panel, caption string, of func(*body) chart.Line) {
	var lines []chart.Line
	for i := len(d.bodies) - 1; i >= 0; i-- {
		l := of(&d.bodies[i]).Clip(d.From, d.Until)
		if low, high, ok := l.Range(); d.off > 0 && ok {
			l = l.Straighten((high - low) * d.off)
		}
		if l.Len() > 0 {
			lines = append(lines, l)
		}
	}
	p.HorizontalGrid(p.Scale(lines))
	p.Readable(caption)
	p.Draw(lines...)
	if d.From > 0 || d.ascent[1] == d.Until { // the curves begin low
		d.Text("caption", chart.Left+5, p.Top+11, "start", caption)
	} else {
		d.Text("caption", d.Width-chart.Right-4, p.Top+11, "end", caption)
	}
}
