package scenario

import (
	"drystage/harness"
	"drystage/sim"
	"drystage/sim/quantity"
)

// wind builds the wind of the day; nil is calm.
func (l *loader) wind(o *object) (w sim.Wind) {
	o.fill(&w)
	aloft := o.get("aloft")
	switch {
	case aloft.given:
		l.oneProfile(o, aloft)
		l.rising(aloft, "height", quantity.Length)
	case o != nil:
		l.surface(o, &w)
	}
	for i, g := range o.get("gusts").objects() {
		if g.get("from").given {
			continue
		}
		w.Gusts[i].From = w.From
		if aloft.given && len(g.vals) > 0 {
			l.report(harness.Problem{Place: g.at, Found: "a gust without \"from\" in a wind by `aloft`", Wanted: "from: clockwise from north, where it comes from", Hint: "a table of winds has no one direction"})
		}
	}
	if t, speed := o.get("turbulence"), o.get("speed"); t.object() != nil && speed.ok() && speed.num() == 0 && !t.object().get("w20").given {
		l.report(harness.Problem{Place: t.at, Found: "turbulence without \"w20\" in a calm", Wanted: "w20: the wind at 20 ft that sets its intensity", Hint: "light turbulence has w20: 15 kn"})
	}
	return w
}

// oneProfile reports the keys of another profile beside the table of winds aloft.
func (l *loader) oneProfile(o *object, aloft value) {
	for _, key := range []string{"speed", "from", "height", "exponent", "roughness"} {
		if v := o.get(key); v.given {
			l.report(harness.Problem{Place: v.at, Found: quote(key) + " beside \"aloft\"", Wanted: "one profile of the wind", Hint: "give the wind at the ground as the first row of aloft"})
		}
	}
}

// surface reports what is wrong in a wind that is given at one height.
func (l *loader) surface(o *object, w *sim.Wind) {
	for _, key := range []string{"speed", "from"} {
		if !o.get(key).given {
			l.report(harness.Problem{Place: o.at, Found: "a wind without \"" + key + "\"", Wanted: "either speed and from, or aloft"})
		}
	}
	z0 := o.get("roughness")
	if !z0.given {
		return
	}
	if e := o.get("exponent"); e.given {
		l.report(harness.Problem{Place: z0.at, Found: "a roughness beside an exponent", Wanted: "one profile of the wind", Hint: "exponent is of the power law, roughness of the logarithmic law"})
	}
	if z0.ok() && o.get("height").ok() && z0.num() > w.Height/2 {
		l.report(harness.Problem{Place: z0.at, Found: "a roughness length of " + quantity.Text(z0.num(), quantity.Length) + " with a wind at " + quantity.Text(w.Height, quantity.Length), Wanted: "at most half of the wind's height", Hint: "measure or give the wind higher up"})
	}
}
