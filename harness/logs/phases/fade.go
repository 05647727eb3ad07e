package phases

import "math"

// A motor has burnt out when its thrust has fallen to a twentieth of its mean: the usual end of a burn time. Most die down
// within hundredths of a second; where one fades slowly, its kinks tell little and the level tells the time.
const (
	endShare   = 0.05 // of the mean thrust
	fadeSlow   = 0.06 // s from half the thrust to its end that are a slow fade
	fadeLeast  = 0.09 // of the thrust that is left halfway: an exponential leaves 0.16, a line 0.28
	fadeMost   = 0.24
	fadeFalls  = 0.6  // of the thrust at a quarter of the fade that is left at three quarters: an exponential leaves 0.32
	fadeBefore = 1.5  // s before a burnout by its kink in which half the thrust may lie
	fadeAfter  = 0.7  // s after it in which the end may lie
	fadeSpan   = 0.01 // s on each side that the thrust is averaged over
	fadeDrag   = 0.05 // of the drag, one standard deviation of what is taken for it
	fadeShape  = 0.2  // of the end's level, one standard deviation of where vibration and bias put it
)

// fade gives the end of a burn whose thrust fades slowly; off, by its kink, where it does not.
func (a *axial) fade(on float64, off Edge, quiet *Segment) Edge {
	drag, _ := a.dragAfter(quiet)
	lo, hi := sorted(a.t, max(on+0.1, off.At-fadeBefore)), sorted(a.t, min(off.At+fadeAfter, quiet.Until))
	if drag == nil || hi-lo < 8 {
		return off
	}
	first, last := sorted(a.t, on), sorted(a.t, off.At)
	level := 0.0
	for i := first; i < last; i++ {
		level += (a.x[i] - drag(a.v[i]/100)) / float64(last-first)
	}
	arm := int(fadeSpan / a.step) // none where samples are rare: a mean of three would bend the fade
	thrust := func(i int) float64 {
		y := 0.0
		from, until := max(i-arm, 0), min(i+arm+1, len(a.x))
		for k := from; k < until; k++ {
			y += (a.x[k] - drag(a.v[k]/100)) / float64(until-from)
		}
		return y
	}
	half, end := -1, -1
	for i := lo; i < hi; i++ {
		if thrust(i) > level/2 {
			half = i
		}
	}
	if half < 0 {
		return off
	}
	for i := half; i < hi; i++ {
		if thrust(i) < endShare*level && thrust(min(i+max(arm, 1), hi-1)) < endShare*level {
			end = i
			break
		}
	}
	if end < 1 || a.t[end]-a.t[half] < fadeSlow+2*a.step {
		return off
	}
	if mid := thrust((half+end)/2) / level; mid < fadeLeast || mid > fadeMost {
		return off // a level that stays is the air's, and a line has a kink at its end
	}
	if early, late := thrust(half+(end-half)/4), thrust(half+3*(end-half)/4); late > fadeFalls*early {
		return off // a bump is no fade
	}
	y0, y1 := thrust(end-1), thrust(end)
	at := a.t[end] - a.step*min(max((endShare*level-y1)/max(y0-y1, 1e-6), 0), 1)
	// An exponential through the half and the end gives the slope there better than two samples do.
	slope := endShare * level * math.Log(0.5/endShare) / (a.t[end] - a.t[half])
	v := a.v[end] / 100
	doubt := math.Hypot(quiet.Noise/math.Sqrt(2*float64(arm)+1), math.Hypot(fadeDrag*(drag(v)-drag(0)), fadeShape*endShare*level))
	return Edge{at, math.Hypot(doubt/slope, a.step/math.Sqrt(12))}
}
