package chart

import (
	"cmp"
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

// The names above a panel: the height of a row, and how many rows there may be.
const (
	nameRow  = 11.5
	nameRows = 6
)

// nameWidth is about the width of a letter of a name.
const nameWidth = 5.3

// placedName is the name of a mark in a row above a panel, counted from the panel.
type placedName struct {
	Mark
	at, left, right float64 // of the mark's line, and of the name
	row             int
}

// crosses says that the line that leads to a name would run through another name, or that both would lie on each other.
func (n *placedName) crosses(o *placedName) bool {
	const gap = 4
	switch {
	case n.row == o.row:
		return n.left < o.right+gap && o.left < n.right+gap
	case n.row > o.row:
		return n.at > o.left-gap/2 && n.at < o.right+gap/2
	}
	return o.at > n.left-gap/2 && o.at < n.right+gap/2
}

// namesOf gives the marks in the picture from right to left, those that are as good as at one place with one name for all;
// last those that must begin left of their line to end in the picture, since they lie above the lines of others.
func (c *Chart) namesOf(ms []Mark) (list []placedName) {
	in := slices.DeleteFunc(slices.Clone(ms), func(m Mark) bool { return m.At < c.From || m.At > c.Until })
	slices.SortStableFunc(in, func(a, b Mark) int { return cmp.Compare(a.At, b.At) })
	for _, m := range in {
		if n := len(list); n > 0 && c.X(m.At)-list[n-1].at < 4.5 {
			list[n-1].Name += ", " + m.Name
			continue
		}
		list = append(list, placedName{Mark: m, at: c.X(m.At)})
	}
	for i := range list {
		n := &list[i]
		if letters := []rune(n.Name); float64(len(letters)) > (c.Width-8)/nameWidth {
			n.Name = string(letters[:int((c.Width-8)/nameWidth)-1]) + "\u2026"
		}
		wide := nameWidth * float64(utf8.RuneCountInString(n.Name))
		n.left = max(min(n.at-1, c.Width-4-wide), 2)
		n.right = n.left + wide
	}
	slices.Reverse(list)
	moved := func(n placedName) int {
		if n.left < n.at-1 {
			return 1
		}
		return 0
	}
	slices.SortStableFunc(list, func(a, b placedName) int { return moved(a) - moved(b) })
	return list
}

// placeNames gives each name a place above the panel, as near to it as can be: a name begins at its line and runs above the
// lines of later ones. A name without room is left out.
func (c *Chart) placeNames(ms []Mark) (out []placedName) {
	for _, n := range c.namesOf(ms) {
		for ; n.row < nameRows; n.row++ {
			if !slices.ContainsFunc(out, func(o placedName) bool { return n.crosses(&o) }) {
				out = append(out, n)
				break
			}
		}
	}
	return out
}

// Banner writes the names of marks above a panel, each at the end of its line.
func (p *Panel) Banner(ms []Mark) {
	var lines strings.Builder
	for _, n := range p.placeNames(ms) {
		y := p.Top - 4 - nameRow*float64(n.row)
		fmt.Fprintf(&lines, "M%s %.0fV%s", place(n.at), p.Top, place(y+1))
		p.Text("name", n.left, y-1, "start", n.Name)
	}
	if lines.Len() > 0 {
		fmt.Fprintf(&p.b, `<path class="moment" d="%s"/>`, lines.String())
	}
}

// BannerHeight is the room that a banner of some marks needs above its panel.
func (c *Chart) BannerHeight(ms []Mark) float64 {
	rows := 0
	for _, n := range c.placeNames(ms) {
		rows = max(rows, n.row+1)
	}
	if rows == 0 {
		return 0
	}
	return math.Ceil(6 + nameRow*float64(rows))
}
