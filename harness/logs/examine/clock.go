package examine

import (
	"fmt"
	"math"
	"slices"

	"drystage/harness/logs"
	"drystage/sim"
)

// leap is a stretch of the log's clock in which no part has a sample: rows were lost, or the clock jumped over it.
type leap struct {
	from, until float64 // s by the log's clock: the samples next to it
	period      float64 // s between samples otherwise
	jumped      float64 // belief that the clock jumped and nothing is lost
	text        string  // what tells
}

// size is how far the clock jumped, if it did.
func (l *leap) size() float64 { return l.until - l.from - l.period }

const (
	leapPeriods = 2.5    // periods of the fastest part without a sample that ask the question
	mostLeaps   = 40     // more of them are a logger's habit
	leapPrior   = 0.1    // that a clock jumped, rather than that rows were lost: common practice, no source
	leapSure    = 0.9    // of belief from which the clock is mended
	leapSpan    = 1.2    // s on each side over which the motion is fitted
	leapJolt    = 10.0   // m/s2 by which the acceleration may change meanwhile, one standard deviation
	leapBent    = 0.012  // of a jolt times the span squared, by which a parabola over a span with one in it errs at its end, and
	leapSlope   = 0.15   // of a jolt times the span, by which its slope does: root mean squares over where the jolt lies, computed
	leapMotor   = 0.2    // that a motor lit, or burned out, meanwhile; common practice, no source
	leapElse    = 1e-3   // that a comparison is wrong for another reason, which may be by anything up to
	leapHeights = 1000.0 // m, and
	leapSpeeds  = 300.0  // m/s
	perLogP     = 8430.0 // m of height for one unit of the pressure's logarithm, near the ground at 15 degC
)

// leaps lists them, with what the motion on both sides says: of a rocket that flew on meanwhile, height and speed have
// moved on; where only the clock did, they have not.
func leaps(l *logs.Log) (out []leap) {
	fast := -1
	for p := range l.Streams {
		if n := l.Streams[p].Len(); n >= 20 && (fast < 0 || n > l.Streams[fast].Len()) {
			fast = p
		}
	}
	if fast < 0 {
		return nil
	}
	s := &l.Streams[fast]
	times := make([]float64, s.Len())
	for i, t := range s.Times {
		times[i] = t.Seconds()
	}
	period := usualStep(times)
	for i := 1; i < len(times); i++ {
		if times[i]-times[i-1] <= leapPeriods*period {
			continue
		}
		x := leap{from: times[i-1], until: times[i], period: max(period, stepAround(times, i))}
		if x.until-x.from > leapPeriods*x.period && alone(l, s.Times[i-1], s.Times[i]) {
			out = append(out, x)
		}
	}
	if len(out) > mostLeaps {
		return nil
	}
	for i := range out {
		out[i].weigh(l)
	}
	return out
}

// alone says that no part has a sample between two instants.
func alone(l *logs.Log, from, until sim.Time) bool {
	for p := range l.Streams {
		t := l.Streams[p].Times
		i, _ := slices.BinarySearch(t, from+1)
		if i < len(t) && t[i] < until {
			return false
		}
	}
	return true
}

// weigh gives the belief that the clock jumped, by height and speed before and after.
func (x *leap) weigh(l *logs.Log) {
	lost, jump := math.Log(1-leapPrior), math.Log(leapPrior)
	for _, c := range []struct {
		part    sim.Part
		channel int
		name    string
	}{{sim.PartBaro, logs.Pressure, "height by pressure"}, {sim.PartBaro, logs.Height, "height"}, {sim.PartGNSS, logs.Altitude, "height by GNSS"}} {
		s := &l.Streams[c.part]
		if !s.Has(c.channel) {
			continue
		}
		a, ok := sideOf(s, c.channel, window{x.from - leapSpan, x.from + x.period/2}, x.from)
		b, ok2 := sideOf(s, c.channel, window{x.until - x.period/2, x.until + leapSpan}, x.until)
		if !ok || !ok2 {
			continue
		}
		gone := x.until - x.from
		rose, gained := b.x[0]-a.x[0], b.x[1]-a.x[1]
		fits := func(t float64) float64 { // the logarithm of the likelihood of so long a time
			like := 0.0
			for _, m := range []struct{ share, jolt float64 }{{1 - leapMotor, leapJolt}, {leapMotor, unknownForce * 2}} {
				bent, slope := leapBent*m.jolt*leapSpan*leapSpan, leapSlope*m.jolt*leapSpan // of each parabola
				sh := 1e-9 + hypot(a.sd[0], b.sd[0], bent, bent, a.sd[1]*t/2, b.sd[1]*t/2, slope*t/2, slope*t/2, m.jolt*t*t/12)
				sv := 1e-9 + hypot(a.sd[1], b.sd[1], slope, slope, a.sd[2]*t/2, b.sd[2]*t/2, m.jolt*t/2)
				like += m.share * (density(rose-(a.x[1]+b.x[1])/2*t, sh) + leapElse/leapHeights) * (density(gained-(a.x[2]+b.x[2])/2*t, sv) + leapElse/leapSpeeds)
			}
			return math.Log(like)
		}
		lost, jump = lost+fits(gone), jump+fits(x.period)
		x.text = fmt.Sprintf("%s changes by %.1f m over it, at %.1f m/s before and %.1f m/s after", c.name, rose, a.x[1], b.x[1])
	}
	x.jumped = 1 / (1 + math.Exp(min(max(lost-jump, -30), 30)))
}

// density is that of a normal error.
func density(x, sd float64) float64 {
	return math.Exp(-0.5*x*x/(sd*sd)) / (sd * math.Sqrt(2*math.Pi))
}

func hypot(x ...float64) float64 { return math.Sqrt(dot(x, x)) }

// logHeight is the height in m of a pressure in Pa, for differences near the ground.
func logHeight(p float64) float64 { return -perLogP * math.Log(max(p, 1)/101325) }

// side is a parabola through a height on one side of an instant: value, slope and curvature there.
type side struct{ x, sd [3]float64 }

func sideOf(s *logs.Stream, channel int, w window, at float64) (o side, ok bool) {
	g := take(s, channel, sim.AllAxes, w)
	if len(g.x) < 6 {
		return o, false
	}
	var m [3][3]float64
	var y [3]float64
	rows := make([][3]float64, len(g.x))
	for i := range g.x {
		if s.Part == sim.PartBaro && channel == logs.Pressure {
			g.x[i] = logHeight(g.x[i])
		}
		u := g.t[i] - at
		rows[i] = [3]float64{1, u, u * u / 2}
		for r := range rows[i] {
			y[r] += rows[i][r] * g.x[i]
			for c := range m {
				m[r][c] += rows[i][r] * rows[i][c]
			}
		}
	}
	if o.x, ok = solve3(m, y); !ok {
		return o, false
	}
	rss := 0.0
	for i, r := range rows {
		d := g.x[i] - r[0]*o.x[0] - r[1]*o.x[1] - r[2]*o.x[2]
		rss += d * d
	}
	s2 := rss/math.Max(float64(len(rows)-3), 1) + 1e-6
	for k := range o.sd {
		var one [3]float64
		one[k] = 1
		if v, ok := solve3(m, one); ok {
			o.sd[k] = math.Sqrt(math.Max(s2*v[k], 0))
		}
	}
	return o, true
}

// mendClock takes the jumps of its clock out of a log. It keeps them, so that answers are told in the log's own time.
func (e *examiner) mendClock() {
	e.leaps = leaps(e.log)
	if !slices.ContainsFunc(e.leaps, func(x leap) bool { return x.jumped > leapSure }) {
		return
	}
	l := *e.log
	shift := func(t sim.Time) sim.Time {
		out := t
		for _, x := range e.leaps {
			if x.jumped > leapSure && t.Seconds() >= x.until-x.period/2 {
				out -= sim.Seconds(x.size())
			}
		}
		return out
	}
	for p := range l.Streams {
		l.Streams[p].Times = slices.Clone(l.Streams[p].Times)
		for i, t := range l.Streams[p].Times {
			l.Streams[p].Times[i] = shift(t)
		}
	}
	l.Outputs = slices.Clone(l.Outputs)
	for i := range l.Outputs {
		l.Outputs[i].At = shift(l.Outputs[i].At)
	}
	e.log = &l
}

// own gives what the log's own clock says at an instant of the mended one.
func (e *examiner) own(t float64) float64 {
	for _, x := range e.leaps {
		if x.jumped > leapSure && t > x.from+x.period/2 {
			t += x.size()
		}
	}
	return t
}

// restoreClock tells all answers in the log's own time, and its jumps among them.
func (e *examiner) restoreClock() {
	r, mended := e.res, false
	for _, x := range e.leaps {
		if x.jumped > leapSure {
			mended = true
		}
		if x.jumped > leapSure && x.until > e.own(e.in.from) && x.from < e.own(e.in.until) {
			r.Findings = append(r.Findings, Finding{Kind: ClockJump, Axis: sim.AllAxes, From: x.from + x.period, Until: x.until, Within: x.period, Size: x.size(), SizeWithin: x.period, Strength: x.size() / x.period, Explanations: x.why()})
		}
	}
	if !mended {
		return
	}
	for i := range r.Findings {
		if f := &r.Findings[i]; f.Kind != ClockJump {
			f.From, f.Until = e.own(f.From), e.own(f.Until)
		}
	}
	for i := range r.Moments {
		r.Moments[i].At = e.own(r.Moments[i].At)
	}
	for _, t := range [][]float64{r.Path.T, r.Raw.Height.T, r.Raw.GNSSHeight.T, r.Raw.Speed.T, r.Raw.Accel.T} {
		for i := range t {
			t[i] = e.own(t[i])
		}
	}
}

// why weighs lost rows against a jump of the clock.
func (x *leap) why() []Explanation {
	clock := Explanation{Cause: Clock, Share: min(max(x.jumped, 0.01), 0.99)}
	lost := Explanation{Cause: Supply, Share: 1 - clock.Share}
	about := "neither height nor speed says whether the rocket moved on meanwhile"
	if x.text != "" {
		about = x.text
	}
	if x.jumped > 0.5 {
		clock.For, lost.Against = []string{about}, []string{"a rocket that flew on unseen would have moved on"}
		return []Explanation{clock, lost}
	}
	lost.For, clock.Against = []string{"every part of the log falls silent at once", about}, []string{about}
	return []Explanation{lost, clock}
}
