package page

import (
	"cmp"
	"math"
	"slices"

	"drystage/harness"
	"drystage/harness/judge/verdict"
	"drystage/harness/show/chart"
	"drystage/harness/show/report"
	"drystage/sim"
	"drystage/sim/flight"
)

// closeUp is what happened around one expectation that did not pass: on one axis of time what was true, what the
// sensors said, what the board reported, the outputs and the faults.
type closeUp struct {
	finding int // in the verdict
	span    [2]float64
	panels  []closePanel
	lanes   []int // of the summary's
}

// closePanel is one strip of curves.
type closePanel struct {
	caption string
	lines   []chart.Line
}

// closeUps are at most so many a run.
const maxCloseUps = 5

// closeUpsOf gives the pictures of a run's expectations that did not pass, the most dangerous first.
func closeUpsOf(rec *harness.Record, tl *verdict.Timeline, v *harness.Verdict) (list []closeUp) {
	if len(rec.Plan.Setup.Vehicle.Stages) == 0 {
		return nil
	}
	var order []int
	for i := range min(len(rec.Plan.Expect), len(v.Findings)) {
		if v.Findings[i].Answer != harness.Pass {
			order = append(order, i)
		}
	}
	slices.SortStableFunc(order, func(a, b int) int {
		x, y := &v.Findings[a], &v.Findings[b]
		return cmp.Or(x.Answer.Compare(y.Answer), cmp.Compare(y.Danger, x.Danger))
	})
	for _, i := range order {
		m := moments{rec: rec, tl: tl}
		m.of(i)
		if span, ok := m.span(); ok && len(list) < maxCloseUps {
			list = append(list, closeUpOf(rec, tl, i, span))
		}
	}
	return list
}

// moments collects the times that an expectation is about.
type moments struct {
	rec *harness.Record
	tl  *verdict.Timeline
	at  []sim.Time
}

func (m *moments) add(ts ...sim.Time) {
	for _, t := range ts {
		if t > -sim.Never && t < sim.Never {
			m.at = append(m.at, t)
		}
	}
}

// of collects the times of an expectation.
func (m *moments) of(i int) {
	e := &m.rec.Plan.Expect[i]
	event := func(a sim.Anchor) {
		if t, ok := a.In(m.rec.Events); ok {
			m.add(t)
		}
	}
	switch e.Kind {
	case harness.Fires, harness.Never:
		m.required(i)
	case harness.Once, harness.Pulse, harness.AtFiring:
		m.edges(e.Output, 2)
	case harness.Order:
		m.edges(e.Output, 1)
		m.edges(e.Then, 1)
	case harness.AtEvent:
		event(sim.Anchor{Event: e.Event})
	case harness.Reaction:
		event(sim.Anchor{Event: e.Event})
		m.edges(e.Output, 1)
	case harness.Happens:
		event(e.From)
		event(e.To)
		event(sim.Anchor{Event: e.Event})
	case harness.Reports:
		event(sim.Anchor{Event: sim.EventApogee})
	case harness.Alive:
		for _, c := range m.rec.Changes {
			if c.Bay == e.Bay && c.Unasked > 0 {
				m.add(c.At)
				break
			}
		}
	}
}

// required collects the window in which an output had to switch on or be dark, and when it was on in it.
func (m *moments) required(i int) {
	for _, r := range m.tl.Requirements {
		if r.Expect != i {
			continue
		}
		for _, o := range m.tl.Outputs {
			if o.Channel.Bay != r.Output.Bay || o.Channel.Channel != r.Output.Channel {
				continue
			}
			for _, on := range o.On {
				if !r.Never || slices.ContainsFunc(r.Spans, func(s verdict.Span) bool { return s.From < on.Off && on.On < s.To }) {
					m.add(on.On)
					if on.Off-on.On < 3*sim.Second {
						m.add(on.Off)
					}
					break
				}
			}
		}
		for _, s := range r.Spans {
			if !r.Never || len(m.at) > 0 && max(s.From-m.at[0], m.at[0]-s.From) < 5*sim.Second || len(r.Spans) == 1 && len(m.at) == 0 {
				m.add(s.From, s.To)
			}
		}
	}
}

// edges collects the first times at which an output was on.
func (m *moments) edges(c harness.Channel, most int) {
	for _, o := range m.tl.Outputs {
		if o.Channel.Bay == c.Bay && o.Channel.Channel == c.Channel {
			for _, on := range o.On[:min(len(o.On), most)] {
				m.add(on.On, on.Off)
			}
		}
	}
}

// span is the time that a picture of these moments shows, in seconds.
func (m *moments) span() (span [2]float64, ok bool) {
	if len(m.at) == 0 {
		return span, false
	}
	end := m.rec.Times[m.rec.Ticks()-1].Seconds()
	from, until := slices.Min(m.at).Seconds(), slices.Max(m.at).Seconds()
	pad := max(0.35*(until-from), 0.5)
	span = [2]float64{max(from-pad, 0), min(until+pad, end)}
	return span, span[1]-span[0] > 0.01
}

// closeUpOf gathers the curves and lanes of a picture.
func closeUpOf(rec *harness.Record, tl *verdict.Timeline, i int, span [2]float64) closeUp {
	e := &rec.Plan.Expect[i]
	c := closeUp{finding: i, span: span}
	bay := e.Output.Bay
	if e.Kind == harness.Reports || e.Kind == harness.Alive {
		bay = e.Bay
	}
	stage := e.Stage
	if e.Quantity == sim.NoQuantity && bay >= 0 && bay < len(rec.Plan.Setup.Bays) {
		stage = rec.Plan.Setup.Bays[bay].Stage
	}
	if stage < 0 || stage >= len(rec.Plan.Setup.Vehicle.Stages) {
		stage = 0
	}
	s := sampler{rec: rec, bay: bay, stage: stage, span: span}
	c.panels = append(c.panels, closePanel{"height, m", s.heights()})
	if symbol, per := verdict.Shown(e.Quantity); e.Quantity != sim.NoQuantity && e.Quantity != sim.Height {
		c.panels = append(c.panels, closePanel{withUnit(e.Quantity.String(), symbol), s.quantity(e, per)})
	}
	c.panels = append(c.panels, closePanel{"felt along the axis, m/s\u00b2", s.felt()})
	for k, o := range tl.Outputs {
		is := func(x harness.Channel) bool { return o.Channel.Bay == x.Bay && o.Channel.Channel == x.Channel }
		if is(e.Output) || e.Kind == harness.Order && is(e.Then) {
			c.lanes = append(c.lanes, k)
		}
	}
	return c
}

func withUnit(name, symbol string) string {
	if symbol == "" {
		return name
	}
	return name + ", " + symbol
}

// sampler takes curves from a record within a span of time.
type sampler struct {
	rec        *harness.Record
	bay, stage int
	span       [2]float64
}

// closePoints is how many points of a curve are kept.
const closePoints = 160

// ticks calls f for each tick in the span, and for the one before and the one after it.
func (s *sampler) ticks(f func(tick int, t float64)) {
	times := s.rec.Times
	first, _ := slices.BinarySearch(times, sim.Seconds(s.span[0]))
	for i := max(first-1, 0); i < len(times); i++ {
		f(i, times[i].Seconds())
		if times[i].Seconds() > s.span[1] {
			break
		}
	}
}

// frame is what the board was sent at a tick; nil: there is no such board.
func (s *sampler) frame(tick int) *sim.Frame {
	if n := len(s.rec.Plan.Setup.Bays); s.bay >= 0 && s.bay < n {
		return &s.rec.Frames[tick*n+s.bay]
	}
	return nil
}

func (s *sampler) kept(lines ...chart.Line) (out []chart.Line) {
	for _, l := range lines {
		if l = l.Clip(s.span[0], s.span[1]); l.Len() > 0 {
			out = append(out, simplify(l, closePoints))
		}
	}
	return out
}

// heights are the true height, what the barometer as it was sent shows on a standard day, and what the board reported.
func (s *sampler) heights() []chart.Line {
	is, sent, told := chart.Line{Class: "is"}, chart.Line{Class: "sent"}, chart.Line{Class: "told"}
	ground := s.rec.State(0, s.stage).Pressure
	s.ticks(func(tick int, t float64) {
		is.Add(t, s.rec.State(tick, s.stage).Height())
		if f := s.frame(tick); f != nil && f.Has&sim.HasBaro != 0 && ground > 0 && f.Pressure > 0 {
			sent.Add(t, flight.IndicatedHeight(f.Pressure, ground))
		}
	})
	for i := range s.rec.Reports {
		r := &s.rec.Reports[i]
		if t := r.At.Seconds(); r.Bay == s.bay && t >= s.span[0] && t <= s.span[1] && (told.Len() == 0 || t > told.T[told.Len()-1]) && !math.IsNaN(r.Height) {
			told.Add(t, r.Height)
		}
	}
	return s.kept(sent, told, is)
}

// quantity is the true course of the quantity that is judged, with its limits.
func (s *sampler) quantity(e *harness.Expectation, per float64) []chart.Line {
	is, least, most := chart.Line{Class: "is"}, chart.Line{Class: "limit"}, chart.Line{Class: "limit"}
	s.ticks(func(tick int, t float64) {
		is.Add(t, per*e.Quantity.Of(s.rec.State(tick, s.stage)))
	})
	for _, t := range s.span {
		if e.HasLeast {
			least.Add(t, per*e.Least)
		}
		if e.HasMost {
			most.Add(t, per*e.Most)
		}
	}
	return s.kept(least, most, is)
}

// felt is the acceleration along the body's axis: true at its centre of gravity, and as the board was sent it.
func (s *sampler) felt() []chart.Line {
	is, sent := chart.Line{Class: "is"}, chart.Line{Class: "sent"}
	s.ticks(func(tick int, t float64) {
		is.Add(t, s.rec.State(tick, s.stage).Force.X)
		if f := s.frame(tick); f != nil && f.Has&sim.HasAccel != 0 {
			sent.Add(t, f.Accel.X)
		}
	})
	return s.kept(sent, is)
}

// captionAside writes a panel's caption on the side where its curves are lower.
func (d *drawing) captionAside(p *chart.Panel, x closePanel) {
	rise := 0.0
	for _, l := range x.lines {
		rise += l.X[l.Len()-1] - l.X[0]
	}
	if rise > 0 {
		d.Text("caption", chart.Left+5, p.Top+11, "start", x.caption)
	} else {
		d.Text("caption", d.Width-chart.Right-4, p.Top+11, "end", x.caption)
	}
}

// closeFigure draws the picture of one expectation.
func (s *Summary) closeFigure(sizes []chart.Size, c *closeUp) figure {
	f := figure{Title: report.Plain(s.verdict.Findings[c.finding].Text), Wide: len(sizes) == 1}
	used := map[string]bool{}
	for _, z := range sizes {
		d := &drawing{s.only(c.lanes), chart.New(z.Width, 0, c.span[0], c.span[1]), z.Width >= 900, 0}
		d.drawClose(c)
		f.Pics = append(f.Pics, d.html(z.Class, "around this expectation: what was true, what the sensors said, what the board reported; below, the output and the faults"))
	}
	for _, p := range c.panels {
		for _, l := range p.lines {
			used[l.Class] = true
		}
	}
	for _, k := range []key{{"is", "true"}, {"sent", "sensor, as sent to the board"}, {"told", "reported by the board"}, {"limit", "limit"}} {
		if used[k.Class] {
			f.Legend = append(f.Legend, k)
		}
	}
	f.Legend = append(f.Legend, s.only(c.lanes).laneKeys()...)
	if len(s.faults) > 0 {
		f.Legend = append(f.Legend, key{"fault", "fault active"})
	}
	return f
}

// laneKeys are the keys of what is in the lanes.
func (s *Summary) laneKeys() (list []key) {
	var must, dark, on bool
	for i := range s.lanes {
		l := &s.lanes[i]
		must, dark, on = must || len(l.must) > 0, dark || len(l.dark) > 0, on || len(l.on) > 0
	}
	for _, k := range []struct {
		is bool
		key
	}{{must, key{"must", "must switch on here"}}, {dark, key{"dark", "must be dark here"}}, {on, key{"lit", "was on"}}} {
		if k.is {
			list = append(list, k.key)
		}
	}
	return list
}

// only is the summary with some of its lanes.
func (s *Summary) only(lanes []int) *Summary {
	out := *s
	out.lanes = nil
	for _, i := range lanes {
		out.lanes = append(out.lanes, s.lanes[i])
	}
	return &out
}

// drawClose draws a close-up from top to bottom.
func (d *drawing) drawClose(c *closeUp) {
	const tall, gap = 92, 12
	names := d.within(0)
	y := chart.Head + d.BannerHeight(names)
	bottom := y + float64(len(c.panels))*(tall+gap) - gap
	frame := d.Panel(y, bottom+6+d.room())
	d.Height = frame.Bottom + chart.FootClocks
	frame.VerticalGrid(true)
	frame.Clocks(d.launch)
	frame.Moments(names, nil)
	frame.Banner(names)
	for _, x := range c.panels {
		p := d.Panel(y, y+tall)
		p.HorizontalGrid(p.Scale(x.lines))
		p.Readable(x.caption)
		p.Draw(x.lines...)
		d.captionAside(p, x)
		y += tall + gap
	}
	d.drawLanes(bottom + 6)
}
