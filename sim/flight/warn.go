package flight

import (
	"math"

	"drystage/sim"
	"drystage/sim/plain"
)

// The limits of the warnings; their sources stand beside sim's kinds.
const (
	alphaLimit   = 15 * math.Pi / 180 // rad
	alphaPatient = sim.Second / 2
	exitSpeed    = 14.0               // m/s
	tiltLimit    = 20 * math.Pi / 180 // rad
	exitAlpha    = 0.24497866312686414
	leastMargin  = 1.0   // calibres
	leastDynamic = 100.0 // Pa
	hardLanding  = 10.668
	singleMach   = 0.8 // up to here one Cd may hold
	highestMach  = 5.0
	worstError   = 1e9 // times the tolerance; larger ones, and none at all, count as this
)

// doubts collects warnings.
type doubts struct {
	all  []sim.Warning
	open []bool // goes on
}

// mostDoubts is how many warnings are kept, but for the first of each kind and stage, which always is;
// beyond that, the last of a kind takes in what follows.
const mostDoubts = 64

// newDoubts makes room for all of them.
func newDoubts() doubts {
	room := mostDoubts + len(sim.WarningKinds())*sim.MaxStages
	return doubts{all: make([]sim.Warning, 0, room), open: make([]bool, 0, room)}
}

// see takes account of a value at an instant; bad says that it is beyond the limit.
func (d *doubts) see(w sim.Warning, bad bool) {
	for i := len(d.all) - 1; i >= 0; i-- {
		o := &d.all[i]
		if o.Kind != w.Kind || o.Stage != w.Stage {
			continue
		}
		if bad && (d.open[i] || len(d.all) >= mostDoubts) {
			o.Until = w.Until
			if math.Abs(w.Worst-w.Limit) > math.Abs(o.Worst-o.Limit) {
				o.Worst = w.Worst
			}
			return
		}
		d.open[i] = false
		break
	}
	if bad {
		d.all, d.open = append(d.all, w), append(d.open, true)
	}
}

// once notes what can't go on.
func (d *doubts) once(k sim.WarningKind, stage int, at sim.Time, worst, limit float64) {
	d.see(sim.Warning{Kind: k, Stage: stage, From: at, Until: at, Worst: worst, Limit: limit}, true)
}

// each is once for what may come again and is another warning then.
func (d *doubts) each(k sim.WarningKind, stage int, at sim.Time, worst, limit float64) {
	d.once(k, stage, at, worst, limit)
	for i := range d.all {
		d.open[i] = d.open[i] && d.all[i].Kind != k
	}
}

// Warnings gives what there is to warn of so far, in the order in which it began to show. The slice
// is the caller's.
func (f *Flight) Warnings() []sim.Warning { return f.AppendWarnings(nil) }

// AppendWarnings is Warnings behind what a slice holds.
func (f *Flight) AppendWarnings(out []sim.Warning) []sim.Warning {
	for _, w := range f.doubts.all {
		if w.Kind != sim.AngleOfAttack || w.Until-w.From >= alphaPatient {
			out = append(out, w)
		}
	}
	return out
}

// judge looks at a body of the free flight at an instant of its step for what the model isn't good for.
func (f *Flight) judge(b *body, from, t sim.Time) {
	g := b.glance(b.share(t))
	w := func(k sim.WarningKind, worst, limit float64) sim.Warning {
		return sim.Warning{Kind: k, Stage: b.top, From: from, Until: t, Worst: worst, Limit: limit}
	}
	q := float64(0.5 * g.density * float64(g.speed*g.speed))
	flying := len(b.canopies) == 0 && q > leastDynamic
	f.doubts.see(w(sim.AngleOfAttack, g.alpha, alphaLimit), flying && g.alpha > alphaLimit)
	f.doubts.see(w(sim.MachBeyond, g.mach, b.shape.machLimit), g.mach > b.shape.machLimit)
	f.doubts.see(w(sim.AirBeyond, g.height, b.ceiling), g.height > b.ceiling)
	soft := b.softAt[0]
	if t >= b.to {
		soft = min(soft, b.softAt[1])
	}
	f.doubts.see(w(sim.LoadsSoftened, soft, 1), soft < 1)
	if b.top == 0 && flying && !b.topped {
		m := b.stability(g.mach, b.share(t))
		f.record.leastMargin(m.Margin, t)
		f.doubts.see(w(sim.LowMargin, m.Margin, leastMargin), m.Margin < leastMargin)
		f.doubts.see(w(sim.Unstable, m.Margin, 0), m.Margin < 0)
	}
}

// glance is what a body meets at an instant, without its forces.
type glance struct{ speed, alpha, mach, density, height float64 }

func (b *body) glance(x float64) glance {
	m := b.arrival
	if x < 1 || b.resting() {
		y := b.y
		if !b.resting() {
			b.mix(x, &y)
		}
		var fl flow
		y.rotate(&fl.turn)
		b.breathe(&y, &fl)
		m = fl.meeting
	}
	across := math.Sqrt(float64(m.air.Y*m.air.Y) + float64(m.air.Z*m.air.Z))
	return glance{speed: m.speed, alpha: plain.Atan2(across, m.air.X), mach: m.mach, density: m.density, height: m.height}
}
