package main

import (
	"fmt"
	"slices"
	"strings"

	"drystage/harness/show/chart"
	"drystage/harness/show/vehicle"
)

// flightPage is what the page of --html shows of a flight.
func flightPage(j *flightInput, o *idealFlight, c *curves) *vehicle.Flight {
	t := &flightReport{flightInput: j, idealFlight: o}
	set := o.set
	out := &vehicle.Flight{Vehicle: &set.Vehicle, Text: flightText(j, o), Under: fmt.Sprintf("seed %d", set.Seed), Facts: t.facts()}
	if j.scenario != "" {
		out.Under = fmt.Sprintf("as in \"%s\", %s", j.scenario, out.Under)
	}
	all := t.outcomes()
	for _, w := range t.sum.Warnings {
		all = append(all, t.warning(&w))
	}
	for _, w := range all {
		out.Warnings = append(out.Warnings, strings.Join(strings.Fields(w), " "))
	}
	out.Wind.Speed, _, out.Wind.From = surface(&set.Wind)
	out.Plots = func(width float64) (plots []vehicle.Plot) {
		for _, s := range c.spans(o.events) {
			plots = append(plots, vehicle.Plot{Title: strings.ToUpper(s.title[:1]) + s.title[1:] + ", time since launch", Chart: c.chart(s, c.marks(o.events), width)})
		}
		return plots
	}
	for i := range set.Vehicle.Stages {
		if b, ok := t.body(i, c); ok {
			out.Bodies = append(out.Bodies, b)
		}
	}
	return out
}

// body is what comes down with a stage as its first; ok is false of a stage that comes down with one above it.
func (t *flightReport) body(i int, c *curves) (b vehicle.Body, ok bool) {
	l := t.landing(i)
	stages := t.idealFlight.set.Vehicle.Stages
	b = vehicle.Body{Name: stages[i].Name, Class: chart.StageClass(i), Track: c.track[i], Note: "isn't down when the flight is cut"}
	switch {
	case l == nil && t.neverLifted[i]:
		b.Note = "stays on the pad"
	case l == nil:
	case l.Top != i:
		return b, false
	default:
		for k := l.Top + 1; k <= l.Low; k++ {
			b.Name += " and " + stages[k].Name
		}
		b.Landed, b.East, b.North = true, l.East, l.North
		b.Note = fmt.Sprintf("%.0f m away, bearing %03.0f deg, at %.1f s; %.1f m/s down, %.1f J", l.Distance, bearing(l.Bearing), t.clock(l.At), l.Descent, l.Energy)
	}
	return b, true
}

// facts are the main numbers of the flight.
func (t *flightReport) facts() (list []vehicle.Fact) {
	add := func(word, format string, a ...any) {
		list = append(list, vehicle.Fact{Word: word, Number: fmt.Sprintf(format, a...)})
	}
	e, m := &t.sum.Exit, &t.sum.Extremes
	if !e.Left {
		add("rail exit", "never")
		return list
	}
	add("apogee", "%.0f m", m.Height)
	add("greatest speed", "%.0f m/s", slices.Max([]float64{m.Speed, t.fastest(0).speed}))
	add("greatest Mach number", "%.2f", m.Mach)
	add("greatest acceleration felt", "%.0f m/s2", m.Acceleration)
	add("leaves the rail at", "%.1f m/s", e.Speed)
	if e.Stability.Slope > 0 {
		add("static margin at rail exit", "%.2f calibres", e.Stability.Margin)
	}
	for i := range t.idealFlight.set.Vehicle.Stages {
		if l := t.landing(i); l != nil && l.Top == i {
			add("landing of "+t.idealFlight.set.Vehicle.Stages[i].Name, "%.0f m away", l.Distance)
		}
	}
	return list
}
