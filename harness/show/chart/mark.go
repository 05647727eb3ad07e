package chart

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"unicode/utf8"

	"drystage/sim"
)

// Mark is an instant worth a line through a picture.
type Mark struct {
	At   float64 // s
	Name string
}

// Marks picks the events of a flight that are worth a mark, after an instant from which their times count: all
// but crossings, commands and outputs, and but what stands for a stage's event at the same instant, as apogee
// does.
func Marks(events []sim.Event, after sim.Time) []Mark {
	var out []Mark
	for i, e := range events {
		stands := !strings.Contains(e.Name, ".") && slices.ContainsFunc(events, func(x sim.Event) bool {
			return x.At == e.At && strings.HasSuffix(x.Name, "."+e.Name)
		})
		if e.At <= after || strings.Contains(e.Name, " ") || stands || slices.Contains(events[:i], e) {
			continue
		}
		out = append(out, Mark{(e.At - after).Seconds(), e.Name})
	}
	return out
}

// Ascent gives the time at which the last stage is at its apogee, a little more, counted from an instant; 0 when
// none is.
func Ascent(v *sim.Vehicle, events []sim.Event, after sim.Time) float64 {
	last := 0.0
	for i := range v.Stages {
		if t, ok := (sim.Anchor{Event: v.Stages[i].Name + "." + sim.StageApogee}).In(events); ok {
			last = max(last, (t - after).Seconds())
		}
	}
	return 1.1 * last
}

// Names writes the names of marks along the foot of a panel where there is room.
func (p *Panel) Names(ms []Mark) {
	last := math.Inf(-1)
	for _, m := range ms {
		x := p.X(m.At)
		if m.At < p.From || m.At > p.Until || x-last < 13 {
			continue
		}
		last = x
		p.verticalText(x-3, p.Bottom-5, m.Name)
	}
}

func (c *Chart) verticalText(x, y float64, name string) {
	fmt.Fprintf(&c.b, `<text class="name" transform="translate(%.1f %.1f) rotate(-90)">%s</text>`, x, y, escape(name))
}

// nameSpacing is how far the upright names of two marks are kept from each other.
const nameSpacing = 12.5

// Banner writes the names of all marks above a panel, each joined to its line. What would run into its
// neighbour moves aside.
func (p *Panel) Banner(ms []Mark) {
	var in []Mark
	for _, m := range ms {
		if m.At >= p.From && m.At <= p.Until {
			in = append(in, m)
		}
	}
	if len(in) == 0 {
		return
	}
	var joins strings.Builder
	for i, x := range p.spread(in) {
		at := p.X(in[i].At)
		fmt.Fprintf(&joins, "M%.1f %.0fl%.1f -10", at, p.Top, x-at)
		p.verticalText(x+4, p.Top-13, in[i].Name)
	}
	fmt.Fprintf(&p.b, `<path class="moment" d="%s"/>`, joins.String())
}

// spread places names beside each other, each as near to its mark as can be.
func (c *Chart) spread(ms []Mark) []float64 {
	at := make([]float64, len(ms))
	for i, m := range ms {
		if at[i] = c.X(m.At); i > 0 {
			at[i] = max(at[i], at[i-1]+nameSpacing)
		}
	}
	end := c.Width - 4
	for i := len(at) - 1; i >= 0; i-- {
		at[i] = min(at[i], end)
		end = at[i] - nameSpacing
	}
	return at
}

// BannerHeight is the room that a banner of some marks needs above its panel.
func BannerHeight(ms []Mark) float64 {
	most := 0
	for _, m := range ms {
		most = max(most, utf8.RuneCountInString(m.Name))
	}
	return 16 + 5.6*float64(most)
}
