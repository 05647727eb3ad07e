package examine

import (
	_ "embed"
	"fmt"
	"html/template"
	"io"
	"math"
	"path"
	"strings"

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
	"set":     strings.NewReplacer("+-", "\u00b1", "m/s2", "m/s\u00b2", "m/s3", "m/s\u00b3", "rad/s2", "rad/s\u00b2", " -", " \u2212").Replace,
	"wide":    func(x float64) string { return fmt.Sprintf("%.1f%%", 100*x) },
	"add":     func(a, b int) int { return a + b },
	"part":    func(p sim.Part) string { return sim.PartNames()[p-1] },
}).Parse(pageText))

// Page writes the report as one page of HTML that needs nothing else: no script, no font, no picture
// from elsewhere.
func Page(w io.Writer, r *Result) error {
	v := view{Result: r, Name: path.Base(r.Log.Name), Ground: r.groundText()}
	v.Top, _ = r.Path.greatest()
	from, to := r.Log.Span()
	v.Samples, v.From, v.Until = r.Log.Samples(), from.Seconds(), to.Seconds()
	for _, m := range r.Moments {
		h, s := r.Path.at(m.At)
		v.Phases = append(v.Phases, phase{m, h, s})
		v.Fastest = max(v.Fastest, s)
	}
	for _, s := range r.Path.Speed {
		v.Fastest = max(v.Fastest, s)
	}
	v.Figures = r.figures()
	return page.Execute(w, v)
}

// view is what the page shows.
type view struct {
	*Result
	Name, Ground string
	Top, Fastest float64
	Samples      int
	From, Until  float64
	Phases       []phase
	Figures      []figure
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

// figures draws the way up in three charts, then the whole flight.
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
	height := []line{{"second", r.Raw.GNSSHeight.T, r.Raw.GNSSHeight.X}, {"measured", r.Raw.Height.T, r.Raw.Height.X}}
	speed := []line{{"second", r.Raw.Speed.T, r.Raw.Speed.X}, {"smoothed", r.Path.T, r.Path.Speed}}
	accel := []line{{"measured", r.Raw.Accel.T, r.Raw.Accel.X}}
	if r.Fit != nil {
		for _, x := range []struct {
			class string
			t     *Track
		}{{"simulated", &r.Fit.Simulated}, {"corrected", &r.Fit.Corrected}} {
			height = append(height, line{x.class, x.t.T, x.t.Height})
			speed = append(speed, line{x.class, x.t.T, x.t.Speed})
			accel = append(accel, line{x.class, x.t.T, x.t.Accel})
		}
	}
	height = append(height, line{"smoothed", r.Path.T, r.Path.Height})
	all := []line{{"second", r.Raw.GNSSHeight.T, r.Raw.GNSSHeight.X}, {"measured", r.Raw.Height.T, r.Raw.Height.X}, {"smoothed", r.Path.T, r.Path.Height}}
	return []figure{
		r.figure("Height on the way up, m", start, up, 220, height, sim.PartBaro, sim.PartGNSS),
		r.figure("Speed upwards, m/s", start, up, 180, speed, sim.PartGNSS),
		r.figure("Felt along the rocket, m/s\u00b2", start, up, 200, accel, sim.PartAccel, sim.PartGyro),
		r.figure("The whole flight: height, m", 0, until, 190, all, sim.PartBaro, sim.PartGNSS, sim.PartBattery),
	}
}

func (r *Result) figure(title string, from, until, tall float64, lines []line, parts ...sim.Part) figure {
	f := figure{Title: title}
	for _, x := range []struct {
		class string
		width float64
	}{{"broad", 960}, {"slim", 400}} {
		c := &chart{width: x.width, height: tall, from: from, until: max(until, from+1)}
		step := c.scale(lines)
		c.grid(step, true)
		for i := range r.Findings {
			for _, p := range parts {
				if r.Findings[i].Part == p || r.Findings[i].Part == sim.NoPart && p == parts[0] {
					c.finding(&r.Findings[i], i+1)
				}
			}
		}
		c.moments(r.Moments)
		for _, l := range lines {
			c.draw(l)
		}
		c.names(r.Moments)
		f.Pics = append(f.Pics, template.HTML(c.svg(x.class, title))) // made of numbers and our own words
	}
	for _, l := range lines {
		if len(l.t) > 0 {
			f.Legend = append(f.Legend, key{l.class, legends[l.class]})
		}
	}
	return f
}

var legends = map[string]string{"measured": "as logged", "second": "as logged, GNSS", "smoothed": "smoothed", "simulated": "simulated", "corrected": "simulated, scaled to fit"}

// names writes the moments' names along the foot of a chart where there is room.
func (c *chart) names(ms []Moment) {
	last := math.Inf(-1)
	for _, m := range ms {
		x := c.px(m.At)
		if m.At < c.from || m.At > c.until || x-last < 13 {
			continue
		}
		last = x
		y := c.height - bottomRoom - 5
		fmt.Fprintf(&c.b, `<text class="name" transform="translate(%.1f %.1f) rotate(-90)">%s</text>`, x-3, y, m.Name())
	}
}
