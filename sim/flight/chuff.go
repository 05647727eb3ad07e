package flight

import "drystage/sim"

// chuff interrupts the burning motors that a fault names for a while. Then they go on burning where they
// stopped. It says whether any burnt.
func (f *Flight) chuff(s *sim.Fault) bool {
	st := &f.stages[s.Stage]
	b := f.bodyOf(s.Stage)
	found := false
	for i := range st.motors {
		m := &st.motors[i]
		since := f.now - m.ignitedAt
		if !m.burning || s.Duration <= 0 || (s.Motor != 0 && s.Motor != i+1) || since >= m.curve.burnout() {
			continue
		}
		if !found {
			f.endStepNow(b)
			found = true
		}
		m.curve.interrupt(since, s.Duration)
		f.cancel(doBurnout, s.Stage, i)
		f.schedule(action{at: m.ignitedAt + m.curve.burnout(), kind: doBurnout, stage: s.Stage, device: i})
	}
	if found {
		f.computeStep(b)
	}
	return found
}

// interrupt is pause for a motor that has already burnt up to t. The propellant burnt stays the same, and the
// rest is spread over the rest of the curve. The new curve begins at t.
func (c *curve) interrupt(t, pause sim.Time) {
	i := c.segment(t)
	_, _, burnt := c.evaluate(i, t)
	last := len(c.impulse) - 1
	left := float64(c.massPerImpulse*c.impulse[last]) - burnt
	var n curve
	n.resumeAfter(c, i, t, pause)
	rest := n.impulse[len(n.impulse)-1]
	n.massPerImpulse = c.massPerImpulse
	if rest > 0 && left > 0 {
		n.massPerImpulse = left / rest
	}
	before := burnt / n.massPerImpulse
	for k := range n.impulse {
		n.impulse[k] += before
	}
	*c = n
}

// scale multiplies the impulse and the burn time by factors. The propellant mass stays the same.
func (c *curve) scale(impulse, burn float64) {
	for k := range c.at {
		c.at[k] = sim.Seconds(float64(c.at[k].Seconds() * burn))
		c.thrust[k] = float64(c.thrust[k] * (impulse / burn))
		c.impulse[k] = float64(c.impulse[k] * impulse)
	}
	c.massPerImpulse /= impulse
}
