package verdict

import (
	"fmt"

	"drystage/harness"
	"drystage/sim"
)

const (
	// responseSlack is how much later than its own delays a device may respond: an output is applied to the flight at
	// the next tick, and in real time when its frame has come.
	responseSlack = 100 * sim.Millisecond
	// scatterSigmas is how many standard deviations an igniter may be late.
	scatterSigmas = 6
)

// response is the expected response to an output: its event, the time that the output must be on, and the longest
// delay after that.
type response struct {
	event        string
	pulse, delay sim.Time
}

// responseOf gives the response to an output; ok is false if the output has no effect on the vehicle.
func (j *judge) responseOf(c harness.Channel) (d response, ok bool) {
	s := &j.rec.Plan.Setup
	for _, w := range s.Bays[c.Bay].Wires {
		e := w.Effect
		if w.Channel != c.Channel || !inside(e.Stage, len(s.Vehicle.Stages)) {
			continue
		}
		st := &s.Vehicle.Stages[e.Stage]
		switch {
		case e.Kind == sim.Ignite:
			i := &st.Mount.Igniter
			return response{st.Name + "." + sim.StageIgnition, i.Pulse, add(i.Delay, scatterSigmas*i.Scatter)}, true
		case e.Kind == sim.Separate:
			return response{st.Name + "." + sim.StageSeparation, 0, st.Separation.Delay}, true
		case e.Kind == sim.Deploy && inside(e.Device, len(st.Recovery)):
			r := &st.Recovery[e.Device]
			return response{st.Name + "." + r.Name, r.Pulse, r.Delay}, true
		}
	}
	return d, false
}

// judgeResponse judges that the device on an output responded to it: not before it, and within the device's delay. It
// can only make the answer worse.
func (j *judge) judgeResponse(e *harness.Expectation, l *onInterval, f *harness.Finding) {
	if !e.Answers {
		return
	}
	f.Wanted += ", and answered"
	d, ok := j.responseOf(e.Output)
	if !ok {
		f.Answer = worse(f.Answer, harness.Unsure)
		f.Reason += "; nothing of the vehicle is tied to it that could answer"
		return
	}
	latest := add(add(l.on.high(), add(d.pulse, d.delay)), responseSlack)
	t, came := sim.Anchor{Event: d.event}.In(j.rec.Events)
	switch {
	case came && t < l.on.low():
		f.Reason += fmt.Sprintf("; but %s was at %s, before that", d.event, t)
	case came && t <= latest:
		f.Seen += ", " + d.event + " at " + t.String()
		return
	case came:
		f.Reason += fmt.Sprintf("; but %s came only at %s, and %s was the latest for it", d.event, t, latest)
	case latest > j.end:
		f.Answer = worse(f.Answer, harness.Unsure)
		f.Reason += fmt.Sprintf("; %s, before %s had to come", j.endWord(), d.event)
		return
	default:
		f.Reason += fmt.Sprintf("; but %s never came", d.event)
		if on := l.off.since(l.on); !l.open && on.low() < d.pulse {
			f.Reason += fmt.Sprintf(": it was on for %s, and what it is tied to takes %s", on, d.pulse)
		}
	}
	f.Answer = harness.Fail
}
