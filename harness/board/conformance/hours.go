package conformance

import (
	"fmt"
	"math"

	"drystage/harness/board/contract"
)

func hoursTests() []test {
	return []test{
		{name: "after four hours of clock, and a wrap of its 32 bits in flight, the board does the same", contract: quote("TICK.time", "DONE.time"), spec: "3 and 4, lockstep",
			needs: contract.CanLockstep | contract.CanCommands, try: afterHours},
		{name: "COMMAND disarm makes outputs dark at once, in flight too", contract: quote("COMMAND.command", "DONE.outputs"), spec: "5, rule 9",
			needs: contract.CanLockstep | contract.CanCommands, try: offAtDisarm},
		{name: "restarted in flight while its clock wraps, the board goes on as near time 0", contract: quote("HELLO.time", "TICK.time", "RESTART"), spec: "3 and 4, restart",
			needs: contract.CanLockstep | contract.CanCommands | contract.CanRestart, try: restartAtWrap},
	}
}

const (
	hourTicks    = 12                  // TICKs in which the hours pass: steps of 24 minutes, below 2^31 us
	wrapsBurning = burn / 2            // s after launch, when the clock wraps for the fourth time: the motor burns
	wrapsCut     = thrustAt + outage/2 // s after launch, the same for a flight whose clock wraps without supply
	sameTime     = 500_000             // us that an output may come earlier or later than in the flight at time 0
)

// afterHours lets the clock go on for hours by TICKs without samples, and then flies the armed flight. The outputs must
// come as in the flight near time 0. At first they are moved by SETTING too, since every flight costs time: if that
// goes well, both are shown. Else each gets a flight of its own.
func afterHours(s *tester) result {
	sent := fmt.Sprintf("%d TICKs, without samples, to 4 h 46 min; COMMAND arm, and samples of a flight in which the clock wraps under thrust", hourTicks)
	if s.onAtStart != "" {
		return s.skipOnAtStart(sent)
	}
	if r, ok := s.armedFlight(sent); !ok {
		return r
	}
	all := s.armedResult.on
	if len(all) == 0 {
		return result{sent: sent, came: nothing, why: "not tried: the board does nothing in this flight near time 0 either"}
	}
	r := result{outcome: Pass, sent: sent, why: "the same outputs at the same times as near time 0"}
	if moved, channels := s.moveOutputs(); len(moved) > 0 && s.offers()&contract.CanSettings != 0 {
		if x, no := s.flyAfterHours(sent, moved, len(all)); no == nil && s.unlikeArmed(x, all, channels) == "" {
			r.came = onText(x.on, s.opt.Rates.IMU)
			s.movedShown, s.onNow = r.came, s.done.Outputs != 0
			return r
		}
	}
	x, no := s.flyAfterHours(sent, nil, 1)
	if no != nil {
		return *no
	}
	r.came, s.onNow = onText(x.on, s.opt.Rates.IMU), s.done.Outputs != 0
	if why := s.unlikeArmed(x, all[:1], nil); why != "" {
		r.outcome, s.onNow, s.clockEnds = Fail, false, true
		r.why = "the board's clock does not last: near time 0, " + onText(all, s.opt.Rates.IMU) + "; after hours and a wrap, " + why + logQuote(x.logs)
	}
	return r
}

// flyAfterHours flies until n outputs have come on, or gives a result that says why not.
func (s *tester) flyAfterHours(sent string, moved map[string]float64, n int) (*flightResult, *result) {
	if r, ok := s.beginMoved(sent, moved); !ok {
		return nil, &r
	}
	if no := s.passHours(sent, s.hoursEnd(wrapsBurning)); no != nil {
		return nil, no
	}
	x, err := s.flyUntil(true, n)
	if err != nil {
		return nil, s.failedWhen("in the flight after hours of clock", err, sent)
	}
	return &x, nil
}

// hoursEnd is the time in us, after 4 h 46 min, when a flight's samples must begin for the clock to wrap at a time after launch.
func (s *tester) hoursEnd(wraps float64) uint64 {
	return 4<<32 - uint64(math.Round((s.padTime()+wraps)*1e6))
}

// passHours lets the clock go on to a time in us by TICKs without samples: the next samples are later by that.
func (s *tester) passHours(sent string, end uint64) *result {
	for i := range uint64(hourTicks) {
		s.now = uint32(end * (i + 1) / hourTicks) // modulo 2^32
		if err := s.tickAlone(); err != nil {
			return s.failedWhen(fmt.Sprintf("at %.0f min of clock", float64(end*(i+1)/hourTicks)/60e6), err, sent)
		}
	}
	s.samples.late = uint32(end % (1 << 32))
	return nil
}

func (s *tester) failedWhen(when string, err error, sent string) *result {
	r := s.failed(err, sent)
	r.why = when + ": " + r.why
	return &r
}

// restartAtWrap cuts the supply under thrust, hours after the start, and the clock's 32 bits wrap in the outage. What the
// board does then must be what it does near time 0: one that kept its flight keeps it here, too.
func restartAtWrap(s *tester) result {
	sent := fmt.Sprintf("%d TICKs, without samples, to 4 h 46 min; COMMAND arm, samples of a launch, RESTART under thrust, HELLO %g s later, after the wrap, and the rest of the flight", hourTicks, outage)
	if r, yes := s.skipRestart(sent); yes {
		return r
	}
	switch {
	case s.clockEnds:
		return result{sent: sent, came: nothing, why: "not tried: the board's clock does not last for hours, without a restart either; put that right first"}
	case s.restartedResult == nil:
		return result{sent: sent, came: nothing, why: "not tried: put the restart in flight near time 0 right first"}
	}
	want := s.restartedResult.on
	if r, ok := s.beginRun(true); !ok {
		return r
	}
	if no := s.passHours(sent, s.hoursEnd(wrapsCut)); no != nil {
		return *no
	}
	armed, no := s.restartUnderThrust(sent)
	if no != nil {
		return *no
	}
	r, on := s.restOfFlight(sent, armed, max(1, len(want)))
	if r.outcome != Pass {
		return r
	}
	rate := s.opt.Rates.IMU
	r.came, r.why = onText(on, rate), "the same outputs at the same times as near time 0"
	if why := unlike(on, want, nil, rate); why != "" {
		r.outcome = Fail
		r.why = "the board's clock does not last over a restart: near time 0, " + onText(want, rate) + "; after hours and a wrap, " + why
	}
	return r
}

// unlikeArmed says how the outputs of a flight differ from those of the armed flight, empty if they don't. moved maps
// channels of that one to those of this one; nil: they are the same.
func (s *tester) unlikeArmed(x *flightResult, want []onEdge, moved map[uint8]uint8) string {
	if x.armed == 0 && len(x.on) == 0 {
		return "it did not arm"
	}
	return unlike(x.on, want, moved, s.opt.Rates.IMU)
}

// unlike says what came on, if it is not what was wanted.
func unlike(have, want []onEdge, moved map[uint8]uint8, rate float64) string {
	if len(have) < len(want) || len(want) == 0 && len(have) > 0 {
		return onText(have, rate)
	}
	for i, w := range want {
		channel := w.channel
		if moved != nil {
			channel = moved[w.channel]
		}
		if far := float64(have[i].k-w.k) / rate * 1e6; have[i].channel != channel || far > sameTime || far < -sameTime {
			return onText(have, rate)
		}
	}
	return ""
}

// onText lists outputs that switched on, with the time of the flight.
func onText(on []onEdge, rate float64) (text string) {
	if len(on) == 0 {
		return "no output switches on"
	}
	for i, e := range on {
		if i > 0 {
			text += ", "
		}
		text += fmt.Sprintf("output %d at %.2f s", e.channel, float64(e.k+1)/rate)
	}
	return text
}
