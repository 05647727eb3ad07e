package flight

import (
	"math"

	"drystage/sim"
	"drystage/sim/plain"
)

// The limits of the warnings; sim's kinds give their sources.
const (
	alphaLimit   = 15 * math.Pi / 180 // rad
	alphaPatient = sim.Second / 2
	sideShare    = 0.1                // of the weight
	exitSpeed    = 14.0               // m/s
	tiltLimit    = 20 * math.Pi / 180 // rad
	exitAlpha    = 0.24497866312686414
	leastMargin  = 1.0   // calibres
	leastDynamic = 100.0 // Pa
	hardLanding  = 10.668
	singleMach   = 0.8 // up to here one Cd may hold
	highestMach  = 5.0
	worstError   = 1e9 // in units of the tolerance; larger ones and NaN count as this
)

// warningLog collects warnings.
type warningLog struct {
	all  []sim.Warning
	open []bool // the warning may still be extended
}

// maxWarnings is how many warnings are kept. The first of each kind and stage is always kept. Beyond the limit,
// the last warning of a kind is extended instead.
const maxWarnings = 64

// newWarningLog allocates room for all of them.
func newWarningLog() warningLog {
	room := maxWarnings + len(sim.WarningKinds())*sim.MaxStages
	return warningLog{all: make([]sim.Warning, 0, room), open: make([]bool, 0, room)}
}

// update takes a value at an instant; bad says that it is beyond the limit.
func (d *warningLog) update(w sim.Warning, bad bool) {
	for i := len(d.all) - 1; i >= 0; i-- {
		o := &d.all[i]
		if o.Kind != w.Kind || o.Stage != w.Stage {
			continue
		}
		if bad && (d.open[i] || len(d.all) >= maxWarnings) {
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

// add adds a warning about one instant.
func (d *warningLog) add(k sim.WarningKind, stage int, at sim.Time, worst, limit float64) {
	d.update(sim.Warning{Kind: k, Stage: stage, From: at, Until: at, Worst: worst, Limit: limit}, true)
}

// addSeparate is add for something that is a new warning each time.
func (d *warningLog) addSeparate(k sim.WarningKind, stage int, at sim.Time, worst, limit float64) {
	d.add(k, stage, at, worst, limit)
	for i := range d.all {
		d.open[i] = d.open[i] && d.all[i].Kind != k
	}
}

// Warnings gives the warnings so far, in order of their beginning. The slice is the caller's.
func (f *Flight) Warnings() []sim.Warning { return f.AppendWarnings(nil) }

// AppendWarnings appends the warnings to a slice.
func (f *Flight) AppendWarnings(out []sim.Warning) []sim.Warning {
	for _, w := range f.warnings.all {
		if w.Kind != sim.AngleOfAttack || w.Until-w.From >= alphaPatient {
			out = append(out, w)
		}
	}
	return out
}

// checkModelLimits warns when a body in free flight is outside of what the model is valid for.
func (f *Flight) checkModelLimits(b *body, from, t sim.Time) {
	g := b.conditionAt(b.fraction(t))
	w := func(k sim.WarningKind, worst, limit float64) sim.Warning {
		return sim.Warning{Kind: k, Stage: b.top, From: from, Until: t, Worst: worst, Limit: limit}
	}
	q := float64(0.5 * g.density * float64(g.speed*g.speed))
	flying := len(b.canopies) == 0 && q > leastDynamic
	f.warnings.update(w(sim.AngleOfAttack, g.alpha, alphaLimit), flying && g.alpha > alphaLimit && b.sideForceMatters(&g, q, b.fraction(t)))
	f.warnings.update(w(sim.MachBeyond, g.mach, b.shape.machLimit), g.mach > b.shape.machLimit)
	f.warnings.update(w(sim.AirBeyond, g.height, b.ceiling), g.height > b.ceiling)
	soft := b.softeningAt[0]
	if t >= b.to {
		soft = min(soft, b.softeningAt[1])
	}
	f.warnings.update(w(sim.LoadsSoftened, soft, 1), soft < 1)
	if b.top == 0 && flying && !b.pastApogee {
		m := b.stability(g.mach, b.fraction(t))
		f.record.leastMargin(m.Margin, t)
		f.warnings.update(w(sim.LowMargin, m.Margin, leastMargin), m.Margin < leastMargin)
		f.warnings.update(w(sim.Unstable, m.Margin, 0), m.Margin < 0)
	}
}

// sideForceMatters says that the normal force at an angle of attack is more than a tenth of the weight. Near its apogee a
// heavy rocket turns slower than its path, and what the air does to it then is nothing.
func (b *body) sideForceMatters(g *flightCondition, q, x float64) bool {
	var p massProperties
	b.massProperties(b.secondsAt(x), &p)
	return float64(q*b.stability(g.mach, x).Slope)*g.alpha > sideShare*float64(p.mass*standardG)
}

// flightCondition is airspeed, angle of attack and air at an instant.
type flightCondition struct{ speed, alpha, mach, density, height float64 }

func (b *body) conditionAt(x float64) flightCondition {
	m := b.endAirData
	if x < 1 || b.atRest() {
		y := b.y
		if !b.atRest() {
			b.interpolate(x, &y)
		}
		var fl flow
		y.rotate(&fl.rotation)
		b.airData(&y, &fl)
		m = fl.airData
	}
	across := math.Sqrt(float64(m.air.Y*m.air.Y) + float64(m.air.Z*m.air.Z))
	return flightCondition{speed: m.speed, alpha: plain.Atan2(across, m.air.X), mach: m.mach, density: m.density, height: m.height}
}
