package examine

import (
	"fmt"
	"math"

	"drystage/harness/logs"
	"drystage/harness/show/chart"
	"drystage/sim"
	"drystage/sim/flight"
)

const (
	zoomBeside = 0.6  // of a finding's length, shown on each side of it
	zoomLeast  = 0.25 // s on each side, and
	zoomRows   = 12   // samples
	zoomMost   = 10.0 // s
)

// zoom is a picture of one finding in its own channel: as it was logged, and as it would be without it.
func (r *Result) zoom(i int) (figure, bool) {
	f := &r.Findings[i]
	part := f.Part
	if part == sim.NoPart {
		part = sim.PartBaro
		if r.Log.Streams[sim.PartAccel].Len() > 0 {
			part = sim.PartAccel
		}
	}
	s := &r.Log.Streams[part]
	beside := max(zoomLeast, zoomRows*s.Period().Seconds(), min(zoomBeside*(f.Until-f.From), zoomMost))
	in := window{f.From - beside, f.Until + beside}
	lines, names, title := r.zoomLines(f, s, in)
	if len(lines) == 0 {
		return figure{}, false
	}
	pic := r.figure(title, in.from, in.until, 150, lines, part)
	pic.Legend = nil
	for i, l := range lines {
		pic.Legend = append(pic.Legend, key{l.Class, names[i]})
	}
	return pic, true
}

// zoomLines are the curves of a zoom with their names.
func (r *Result) zoomLines(f *Finding, s *logs.Stream, in window) (lines []chart.Line, names []string, title string) {
	classes := [...]string{"measured", "second", "third"}
	draw := func(name string, l chart.Line) { lines, names = append(lines, l), append(names, name) }
	channels := zoomChannels(f, s)
	for n, k := range channels {
		g := take(s, k, sim.AllAxes, in)
		if len(g.t) < 2 {
			continue
		}
		title = r.inUnits(g, s, k)
		if f.Kind == Latency && s.Part == sim.PartBaro || s.Part == sim.PartGNSS && k == logs.Altitude {
			draw(legends["smoothed"], chart.Line{Class: "smoothed", T: r.Path.T, X: r.Path.Height})
		}
		name := "as logged"
		if len(channels) > 1 {
			name += ", " + (sim.AxisX + sim.Axis(k)).String()
		}
		draw(name, chart.Line{Class: classes[n%3], T: g.t, X: g.x})
		if size := r.logged(f); size != 0 && f.Kind.bends() {
			without := chart.Line{Class: "without", T: g.t, X: make([]float64, len(g.x))}
			for i, t := range g.t {
				without.X[i] = g.x[i] - size*shape{f.Kind, f.From, f.Until}.value(t)
			}
			draw(legends["without"], without)
		}
	}
	return lines, names, title
}

// bends says that a kind adds a shape to a channel.
func (k Kind) bends() bool { return k == Spike || k == Step || k == Drift }

// logged is a finding's size in the direction of the log's own axes.
func (r *Result) logged(f *Finding) float64 {
	if (f.Part == sim.PartAccel || f.Part == sim.PartGyro) && f.Axis >= sim.AxisX {
		return f.Size * r.turned[f.Axis-sim.AxisX]
	}
	return f.Size
}

// zoomChannels are the channels that a finding lies in.
func zoomChannels(f *Finding, s *logs.Stream) (out []int) {
	switch s.Part {
	case sim.PartAccel, sim.PartGyro:
		for axis := range 3 {
			if s.Has(axis) && (f.Axis == sim.AllAxes || f.Axis == sim.AxisX+sim.Axis(axis)) {
				out = append(out, axis)
			}
		}
		return out
	case sim.PartBaro:
		out = []int{logs.Pressure, logs.Height}
	case sim.PartGNSS:
		out = []int{logs.Altitude, logs.Latitude}
		if f.Axis == sim.AxisX || f.Axis == sim.AxisY {
			out = []int{[]int{logs.Longitude, logs.Latitude}[f.Axis-sim.AxisX]}
		}
	case sim.PartBattery:
		out = []int{logs.Voltage}
	}
	for _, k := range out {
		if s.Has(k) {
			return []int{k}
		}
	}
	return nil
}

// inUnits turns a channel into what the report shows, and names it.
func (r *Result) inUnits(g *signal, s *logs.Stream, k int) string {
	switch s.Part {
	case sim.PartAccel:
		return "Accelerometer, m/s\u00b2"
	case sim.PartGyro:
		return "Gyro, rad/s"
	case sim.PartBattery:
		return "Battery, V"
	case sim.PartBaro:
		if k == logs.Pressure {
			r.toHeight(g.x)
		}
		return "Height by pressure, m"
	}
	scale, zero, name := 1.0, r.Ground.Elevation, "GNSS height above the pad, m"
	if k != logs.Altitude {
		scale, zero = earth, g.x[0]
		name = "GNSS, m north"
		if k == logs.Longitude {
			name = "GNSS, m east"
			if lat, ok := s.Value(0, logs.Latitude); ok {
				scale *= math.Cos(lat)
			}
		}
	}
	for i := range g.x {
		g.x[i] = scale * (g.x[i] - zero)
	}
	return name
}

// toHeight turns pressures in Pa into heights above the pad, as Raw has them.
func (r *Result) toHeight(x []float64) {
	g := &r.Ground
	air := flight.NewAir(sim.Site{Elevation: g.Elevation, Pressure: g.Pressure, Temperature: g.Temperature / g.Stretch})
	for i := range x {
		x[i] = g.Stretch * heightAt(air, x[i])
	}
}

// channel is a channel of the log times a factor.
func (r *Result) channel(p sim.Part, k int, by float64) (s Series) {
	l := &r.Log.Streams[p]
	if !l.Has(k) {
		return s
	}
	g := take(l, k, sim.AllAxes, window{0, r.end()})
	for i := range g.x {
		g.x[i] *= by
	}
	return Series{g.t, g.x}
}

// away is the distance from the place of the first fixes over the ground by GNSS.
func (r *Result) away() (s Series) {
	lat, long := r.channel(sim.PartGNSS, logs.Latitude, 1), r.channel(sim.PartGNSS, logs.Longitude, 1)
	n := min(len(lat.T), len(long.T))
	if n < 20 {
		return s
	}
	lat0, long0 := median(lat.X[:20]), median(long.X[:20])
	for i := range n {
		north, east := earth*(lat.X[i]-lat0), earth*math.Cos(lat0)*(long.X[i]-long0)
		s.T, s.X = append(s.T, lat.T[i]), append(s.X, math.Hypot(north, east))
	}
	return s
}

// apart is what was measured minus the smoothed flight.
func (p *Path) apart(s Series) (d Series) {
	if len(p.T) == 0 {
		return d
	}
	h := signal{t: p.T, x: p.Height}
	for i, t := range s.T {
		if t >= p.T[0] && t <= p.T[len(p.T)-1] {
			d.T, d.X = append(d.T, t), append(d.X, s.X[i]-h.at(t))
		}
	}
	return d
}

// findingView is a finding with its picture.
type findingView struct {
	*Finding
	Number int
	Zoom   *figure
	Harm   string
}

func (r *Result) findingViews() (out []findingView) {
	for i := range r.Findings {
		v := findingView{Finding: &r.Findings[i], Number: i + 1}
		if z, ok := r.zoom(i); ok {
			v.Zoom = &z
		}
		if h := r.Harm(v.Finding); h >= trifle {
			v.Harm = fmt.Sprintf("a board that believed it would be about %.0f m wrong in height", min(h, 99999))
		}
		out = append(out, v)
	}
	return out
}
