package examine

import (
	_ "embed"
	"fmt"
	"html/template"
	"io"
	"math"
	"path"
	"slices"
	"strings"

	"drystage/harness/logs"
	"drystage/harness/show/chart"
	"drystage/sim"
)

//go:embed page.html
var pageText string

var page = template.Must(template.New("page").Funcs(template.FuncMap{
	"at": func(t float64) string { return fmt.Sprintf("%.3f", t) },
	"num": func(x float64) string {
		return strings.Replace(fmt.Sprintf("%.1f", math.Round(x*10)/10+0), "-", "\u2212", 1)
	},
	"percent": belief,
	"set":     chart.Typeset,
	"wide":    func(x float64) string { return fmt.Sprintf("%.1f%%", 100*x) },
	"add":     func(a, b int) int { return a + b },
	"part":    func(p sim.Part) string { return sim.PartNames()[p-1] },
}).Parse(pageText))

// Page writes the report as one page of HTML that needs nothing else: no script, no font, no picture
// from elsewhere.
func Page(w io.Writer, r *Result) error {
	v := view{Result: r, Style: chart.Style, Name: path.Base(r.Log.Name), Ground: r.groundText()}
	v.Top, _ = r.Path.greatest()
	from, to := r.Log.Span()
	v.Samples, v.From, v.Until = r.Log.Samples(), from.Seconds(), to.Seconds()
	for _, m := range r.Moments {
		h, s := r.motion(m)
		v.Phases = append(v.Phases, phase{m, h, s})
		v.Fastest = max(v.Fastest, s)
	}
	for _, s := range r.Path.Speed {
		v.Fastest = max(v.Fastest, s)
	}
	v.Figures, v.Views = r.figures(), r.findingViews()
	return page.Execute(w, v)
}

// view is what the page shows.
type view struct {
	*Result
	Style        template.CSS
	Name, Ground string
	Top, Fastest float64
	Samples      int
	From, Until  float64
	Phases       []phase
	Figures      []figure
	Views        []findingView
}

type phase struct {
	Moment
	Height, Speed float64
}

// figure is a picture in two widths, of which the page shows the one that fits.
type figure struct {
	Title  string
	Pics   []template.HTML
	Legend []key
}

type key struct{ Class, Text string }

// figures draws the way up in three charts, then the whole flight: heights, what each sensor differs from the smoothed one
// by, pressure, receiver, battery.
func (r *Result) figures() []figure {
	lift, until := 0.0, r.end()
	if m, ok := r.first(Liftoff); ok {
		lift = m.At
	}
	up := until
	if m, ok := r.first(Apogee); ok {
		up = min(m.At+3, until)
	}
	start := max(lift-1, 0)
	height := []chart.Line{{Class: "second", T: r.Raw.GNSSHeight.T, X: r.Raw.GNSSHeight.X}, {Class: "measured", T: r.Raw.Height.T, X: r.Raw.Height.X}}
	speed := []chart.Line{{Class: "second", T: r.Raw.Speed.T, X: r.Raw.Speed.X}, {Class: "smoothed", T: r.Path.T, X: r.Path.Speed}}
	accel := []chart.Line{{Class: "measured", T: r.Raw.Accel.T, X: r.Raw.Accel.X}}
	if r.Fit != nil {
		for _, x := range []struct {
			class string
			t     *Track
		}{{"simulated", &r.Fit.Simulated}, {"corrected", &r.Fit.Corrected}} {
			height = append(height, chart.Line{Class: x.class, T: x.t.T, X: x.t.Height})
			speed = append(speed, chart.Line{Class: x.class, T: x.t.T, X: x.t.Speed})
			accel = append(accel, chart.Line{Class: x.class, T: x.t.T, X: x.t.Accel})
		}
	}
	height = append(height, chart.Line{Class: "smoothed", T: r.Path.T, X: r.Path.Height})
	all := append(slices.Clip(height[:2]), height[len(height)-1])
	apart := []chart.Line{r.Path.apart(r.Raw.GNSSHeight).line("second"), r.Path.apart(r.Raw.Height).line("measured")}
	figures := []figure{
		r.figure("Height on the way up, m", start, up, 220, height, sim.PartBaro, sim.PartGNSS),
		r.figure("Speed upwards, m/s", start, up, 180, speed, sim.PartGNSS),
		r.figure("Felt along the rocket, m/s\u00b2", start, up, 200, accel, sim.PartAccel, sim.PartGyro),
		r.figure("The whole flight: height, m", 0, until, 190, all, sim.PartBaro, sim.PartGNSS),
		r.figure("Height as logged minus smoothed, m", 0, until, 120, apart, sim.PartBaro, sim.PartGNSS),
		r.figure("Pressure, hPa", 0, until, 130, []chart.Line{r.channel(sim.PartBaro, logs.Pressure, 0.01).line("measured")}, sim.PartBaro),
		r.figure("GNSS: distance from the pad over the ground, m", 0, until, 130, []chart.Line{r.away().line("second")}, sim.PartGNSS),
		r.figure("Battery, V", 0, until, 110, []chart.Line{r.channel(sim.PartBattery, logs.Voltage, 1).line("measured")}, sim.PartBattery),
	}
	return slices.DeleteFunc(figures, func(f figure) bool { return len(f.Legend) == 0 }) // of what the log lacks
}

func (s Series) line(class string) chart.Line { return chart.Line{Class: class, T: s.T, X: s.X} }

func (r *Result) figure(title string, from, until, tall float64, lines []chart.Line, parts ...sim.Part) figure {
	f := figure{Title: title}
	var marks []chart.Mark
	for _, m := range r.Moments {
		marks = append(marks, chart.Mark{At: m.At, Name: m.Name()})
	}
	for _, x := range chart.Sizes {
		c := chart.New(x.Width, tall, from, max(until, from+0.2))
		head := max(chart.Head, c.BannerHeight(marks))
		c.Height += head - chart.Head
		p := c.Panel(head, c.Height-chart.Foot)
		p.Grid(p.Scale(lines), true)
		for i := range r.Findings {
			for _, part := range parts {
				if g := &r.Findings[i]; g.Part == part || g.Part == sim.NoPart && part == parts[0] {
					p.Pin(g.class(), g.From, g.Until, i+1, fmt.Sprintf("#finding-%d", i+1), g.Title())
				}
			}
		}
		for _, m := range r.Moments {
			p.Mark("moment", m.At, fmt.Sprintf("%s, %.3f s", m.Name(), m.At))
		}
		p.Draw(lines...)
		p.Banner(marks)
		f.Pics = append(f.Pics, template.HTML(c.SVG(x.Class, title))) // a chart makes no text markup
	}
	for _, l := range lines {
		if len(l.T) > 0 {
			f.Legend = append(f.Legend, key{l.Class, legends[l.Class]})
		}
	}
	return f
}

// class decides how a finding looks.
func (f *Finding) class() string {
	if f.Real() {
		return "real"
	}
	return "odd"
}

var legends = map[string]string{"measured": "as logged", "second": "as logged, GNSS", "third": "as logged", "without": "without the finding", "smoothed": "smoothed", "simulated": "simulated", "corrected": "simulated, scaled to fit"}
