package conformance

import (
	"fmt"
	"strings"

	"drystage/harness/board/contract"
)

// armOnPad sends samples of the pad and COMMAND arm until DONE says armed.
func (s *tester) armOnPad(sent string) (r result, ok bool) {
	ask, n := int(armAt*s.opt.Rates.IMU), int((armAt+s.armTime())*s.opt.Rates.IMU)
	for k := range n {
		var more []byte
		if k == ask {
			more = s.command(contract.Arm)
		}
		if err := s.tick(more...); err != nil {
			return s.failed(err, sent), false
		}
		if s.done.Armed != 0 {
			return r, true
		}
	}
	return result{sent: sent, came: "no DONE with armed 1", why: "a board that does not arm shows nothing here" + logQuote(strings.Join(s.monitor.logs, "; "))}, false
}

// untilOn flies, armed, until an output is on. The flight of the point before may have got there.
func (s *tester) untilOn(sent string) (r result, ok bool) {
	if s.onNow {
		s.onNow = false
		return r, true
	}
	if r, ok := s.beginRun(true); !ok {
		return r, false
	}
	rate := s.opt.Rates.IMU
	s.samples.launch = s.padTime()
	for k := range int((s.padTime() + apogee() + afterApogee) * rate) {
		var more []byte
		if k == int(armAt*rate) {
			more = s.command(contract.Arm)
		}
		if err := s.tick(more...); err != nil {
			return s.failed(err, sent), false
		}
		if s.done.Outputs != 0 {
			return r, true
		}
	}
	return result{sent: sent, came: "no output on in the whole flight", why: "without an output that is on, nothing shows that it would go off; give the board its outputs with --set"}, false
}

// Times of flights that end as soon as what they are about must have come, since every tick costs time.
const (
	shortPad = 0.5 // s on the pad, for a board that has been there
	afterTop = 1.0 // s after apogee, when the first output must have come
)

// skipDisarm is the result of a point that needs a board that can be disarmed and whose outputs are off at the start.
func (s *tester) skipDisarm(sent string) (r result, yes bool) {
	switch {
	case s.onAtStart != "":
		return s.skipOnAtStart(sent), true
	case s.firesUnarmed:
		return result{sent: sent, came: nothing, why: "not tried: the board fires though nobody has armed it; put that right first"}, true
	case s.ignoresDisarm:
		return result{sent: sent, came: nothing, why: "not tried: the board stays armed after COMMAND disarm; put that right first"}, true
	}
	return r, false
}

// offDisarmed arms and disarms the board on the pad, and flies.
func offDisarmed(s *tester) result {
	sent := fmt.Sprintf("COMMAND arm on the pad; once DONE says armed, COMMANDs arm and disarm in one write; samples of a flight to %.0f m", top())
	if r, yes := s.skipDisarm(sent); yes {
		return r
	}
	if r, ok := s.beginRun(true); !ok {
		return r
	}
	if r, ok := s.armOnPad(sent); !ok {
		return r
	}
	ons := s.monitor.switchedOn
	if err := s.tick(append(s.command(contract.Arm), s.command(contract.Disarm)...)...); err != nil { // the last one counts
		return s.failed(err, sent)
	}
	s.samples.launch = float64(s.samples.k)/s.opt.Rates.IMU + shortPad
	if r, ok := s.staysOff(sent, ons, shortPad+apogee()+afterTop, "a board that was disarmed must not fire, whatever it flies through"); !ok {
		return r
	}
	if s.armedResult == nil || s.armedResult.switchedOn == 0 {
		return result{sent: sent, came: "no output on, armed or not", why: "nothing shows that this flight makes the board fire at all: give it its outputs with --set, its nose with --axis"}
	}
	return result{outcome: Pass, sent: sent, came: "no output on", why: "dark in a flight that makes it fire when armed"}
}

// offAtDisarm disarms the board in flight while an output is on.
func offAtDisarm(s *tester) result {
	sent := "COMMAND arm, a flight until an output is on, COMMAND disarm, and a second of the flight"
	if r, yes := s.skipDisarm(sent); yes {
		return r
	}
	if r, ok := s.untilOn(sent); !ok {
		return r
	}
	was := s.done.Outputs
	if err := s.tick(s.command(contract.Disarm)...); err != nil {
		return s.failed(err, sent)
	}
	if s.done.Outputs != 0 {
		return result{outcome: Fail, sent: sent, came: fmt.Sprintf("outputs %016b before COMMAND disarm, %016b after", was, s.done.Outputs),
			why: "disarming leaves an output on: what was to be stopped goes on to the end of its pulse"}
	}
	if r, ok := s.staysOff(sent, s.monitor.switchedOn, afterTop, "a board that was disarmed in flight must not fire again"); !ok {
		return r
	}
	return result{outcome: Pass, sent: sent, came: fmt.Sprintf("outputs %016b before, none after", was), why: "dark at once, and afterwards"}
}

// staysOff sends the samples of some seconds, in which no output may be on. ons is how often outputs had been switched
// on before.
func (s *tester) staysOff(sent string, ons int, seconds float64, why string) (r result, ok bool) {
	for range int(seconds * s.opt.Rates.IMU) {
		if err := s.tick(); err != nil {
			return s.failed(err, sent), false
		}
		if s.done.Outputs != 0 || s.monitor.switchedOn != ons {
			return result{outcome: Fail, sent: sent, came: fmt.Sprintf("at %d us outputs %016b, %d OUTPUTs on, armed %d", s.now, s.done.Outputs, s.monitor.switchedOn-ons, s.done.Armed), why: why}, false
		}
	}
	return r, true
}
