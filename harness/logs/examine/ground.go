package examine

import (
	"math"

	"drystage/sim"
)

// landing is where the line of the fall meets the ground on which the height then stays.
func (e *examiner) landing() {
	b := e.baro
	if b == nil {
		e.landingByShock()
		return
	}
	if len(b.x) < 20 || e.end < e.top+2 {
		return
	}
	ground := median(b.x[len(b.x)-min(max(int(groundSpan/b.step), 3), groundMost):])
	// The last sample that is clearly above the ground.
	i := len(b.x) - 1
	clear := 5*b.sigma + 0.3
	for i > 3 && (b.mask[i] || b.x[i]-ground < clear || b.x[i-1]-ground < clear || b.x[i-2]-ground < clear) {
		i--
	}
	if e.end-b.t[i] < 0.5 || b.t[i] < e.top {
		return // still falling when the log ends
	}
	back := lagSettles * e.advance() // air that follows late goes on falling
	span := max(touchSpan, touchSamples*b.step)
	slope, sd := b.line(b.t[i]-span-back, b.t[i]-0.05-back, 1)
	m, _, n := b.mean(b.t[i]-span-back, b.t[i]-0.05-back)
	if n < touchSamples/2 || slope > -0.8 {
		return
	}
	if rest, sd := b.line(max(b.t[i]+max((clear+0.5)/-slope, back), e.end-span), e.end+1, 1); sd > 0 && (rest < slope/2 || b.part == sim.PartBaro && rest < -groundSlow-3*sd) {
		return // the log's end looks like a ground, but goes on falling
	}
	if m, _, n := b.mean(b.t[i]+max((clear+0.5)/-slope, back), e.end+1); n > 4 {
		ground = m
	}
	sd *= b.restlessness(b.t[i]-touchLook, b.t[i]-back)
	at := b.t[i] - back - (span+0.05)/2 + (ground-m)/slope
	lever := max((ground-m)/slope, 1.6+back) // s from the middle of the line
	within := 2 * math.Hypot(b.sigma/3/-slope, sd*lever/-slope)
	from, open := e.byHeight()
	if open > 0 { // a receiver's height wanders slowly, which no mean takes out
		within = open + 2*math.Hypot(b.sigma/-slope, sd*lever/-slope)
	}
	within = math.Hypot(within, b.step)
	if open == 0 {
		at, within = at-e.lag.at, math.Hypot(within, 2*e.lag.sd)
	}
	if s, ok := e.touch(at, within); ok {
		at, within, from = s.at, s.within, from+" and a shock"
	}
	sd = 2 * sd
	if b.part == sim.PartBaro && e.opt.Temperature == 0 && e.res.Ground.Stretch == 1 { // heights by pressure are in proportion to the air's temperature
		sd = math.Hypot(sd, airUnknown*slope)
	}
	e.res.Touchdown = Touchdown{Speed: -slope, Within: sd}
	e.moment(Landing, 0, at, within, from)
}

// restlessness is by how much more than its noise a height errs in a stretch of a fall, at least 1.
func (g *signal) restlessness(from, until float64) float64 {
	i, j := g.between(from, until)
	var t, h []float64
	for ; i < j; i++ {
		if !g.mask[i] {
			t, h = append(t, g.t[i]), append(h, g.x[i])
		}
	}
	return max(restless(t, h, g.step)/max(g.sigma, 1e-9), 1)
}

const touchLook = 20.0 // s before the ground whose swings and gusts tell those of the last seconds

// landingByShock is the landing of a log without any height: a shock after which the rocket lies still to the end.
func (e *examiner) landingByShock() {
	still := e.stillFrom()
	if e.accel[0] == nil || still >= e.end || still < e.top+2 {
		return
	}
	if s, ok := strongest(e.shocks(still-settling, still+e.accel[0].step), still-settling, still+e.accel[0].step); ok {
		e.moment(Landing, 0, s.at, s.within, "a shock, and rest after it")
	}
}

const airUnknown = 0.07 // of a height by pressure, expanded, where nothing tells the air's temperature: 20 K; common practice, no source

const groundSlow = 1.0 // m/s by which a height may seem to fall on the ground: wind in the ports

const (
	groundSpan   = 3.0  // s at the end of a log whose middle is taken for the ground, or
	groundMost   = 25   // samples
	touchSpan    = 3.0  // s of the fall at the end that a line is laid through, or
	touchSamples = 16.0 // so many samples where they are slow
)

// touch is the shock of the ground near the instant at which the line of the fall meets it: the strongest near it, and
// one after which the rocket lies still rather than any other.
func (e *examiner) touch(at, within float64) (best shock, ok bool) {
	if e.accel[0] == nil {
		return shock{}, false
	}
	still, most := e.stillFrom(), 0.0
	sd := math.Hypot(within/2, touchSD)
	for _, s := range e.shocks(at-touchFar*sd, at+touchFar*sd) {
		z := (s.at - at) / sd
		l := math.Log(s.score) - 0.5*z*z
		if still < e.end && s.at > still-settling && s.at < still+e.accel[0].step {
			l += stillGain
		}
		if !ok || l > most {
			best, most, ok = s, l, true
		}
	}
	return best, ok && most > 0
}

const lagSettles = 3.0 // lags after which a twentieth of a change is left

const (
	touchSD   = 0.15 // s, of where a line through a fall meets uneven ground
	touchFar  = 4.0  // standard deviations from it that are looked at
	settling  = 1.0  // s from the ground's shock until a rocket lies still
	stillGain = 3.0  // nats: shocks with stillness after them are the ground's
)
