package conformance

import (
	"bytes"
	"fmt"
	"strings"

	"drystage/harness/board/contract"
)

// corruptCommands sends arm corrupted in every way, then a sound arm, then disarm and stage corrupted in every way.
func corruptCommands(s *tester) result {
	sent := fmt.Sprintf("COMMAND arm spoilt in %d ways, then sound; then disarm and stage spoilt in as many", len(corruptions))
	if r, ok := s.beginOff(sent); !ok {
		return r
	}
	second := int(s.opt.Rates.IMU * s.armTime())
	if err := s.ticks(second); err != nil {
		return s.failed(err, sent)
	}
	for _, command := range []uint8{contract.Arm, contract.Disarm, contract.Stage} {
		was := s.done
		if err := s.sendCorrupt(command, second); err != nil {
			return s.failed(err, sent)
		}
		if s.done.Armed != was.Armed || s.done.Outputs != was.Outputs {
			return result{outcome: Fail, sent: sent, why: "the board acted on a corrupt COMMAND " + commandNames[command],
				came: fmt.Sprintf("armed %d, outputs %016b, after armed %d, outputs %016b", s.done.Armed, s.done.Outputs, was.Armed, was.Outputs)}
		}
		if command != contract.Arm {
			continue
		}
		if err := s.tick(s.command(contract.Arm)...); err != nil {
			return s.failed(err, sent)
		}
		if err := s.ticks(second); err != nil {
			return s.failed(err, sent)
		}
		if s.done.Armed == 0 {
			return result{sent: sent, came: "armed 0 throughout", why: "corrupt ones did nothing, but the sound one did nothing either" + logQuote(strings.Join(s.monitor.logs, "; "))}
		}
	}
	return result{outcome: Pass, sent: sent, came: "armed 1 after the sound arm alone, and still at the end; no output changed", why: "only the sound COMMAND was acted on"}
}

var commandNames = map[uint8]string{contract.Arm: "arm", contract.Disarm: "disarm", contract.Stage: "stage"}

// sendCorrupt sends a command corrupted in every way, and waits as long as a sound one would take.
func (s *tester) sendCorrupt(command uint8, wait int) error {
	for _, d := range corruptions {
		if err := s.tick(d.apply(s.command(command))...); err != nil {
			return err
		}
	}
	return s.ticks(wait)
}

// corruptFlight arms the board on the pad. Then it sends sound samples of the pad, and beside them samples of a whole
// flight whose CRC does not match.
func corruptFlight(s *tester) result {
	sent := "COMMAND arm on the pad; then, beside sound samples of the pad, IMU and BARO of a whole flight, each with a wrong CRC"
	if r, ok := s.beginOff(sent); !ok {
		return r
	}
	if s.Welcome.Capabilities&contract.CanCommands != 0 {
		if err := s.ticks(int(s.opt.Rates.IMU * armAt)); err != nil {
			return s.failed(err, sent)
		}
		if err := s.tick(s.command(contract.Arm)...); err != nil {
			return s.failed(err, sent)
		}
	}
	if err := s.ticks(int(s.opt.Rates.IMU * s.armTime())); err != nil {
		return s.failed(err, sent)
	}
	armed, was, bad := s.done.Armed, s.done.Outputs, s.done.Bad
	ghost := s.samples
	ghost.launch = float64(ghost.k) / s.opt.Rates.IMU
	for range int((apogee() + afterFalseApogee) * s.opt.Rates.IMU) {
		if err := s.tick(s.corruptSamples(&ghost)...); err != nil {
			return s.failed(err, sent)
		}
		if s.done.Outputs&^was != 0 || s.done.Armed != armed {
			return result{outcome: Fail, sent: sent, came: fmt.Sprintf("at %d us armed %d, outputs %016b; before armed %d, outputs %016b", s.now, s.done.Armed, s.done.Outputs, armed, was),
				why: "the board acted on corrupt samples: a frame whose check does not match must have no effect"}
		}
	}
	r := result{outcome: Pass, sent: sent, came: fmt.Sprintf("no output on; `bad` rose by %d", s.done.Bad-bad), why: "an armed board on its pad did nothing for a flight that came corrupt"}
	if s.done.Armed == 0 {
		r.outcome, r.why = Unsure, "the board was not armed, so that its darkness proves little"+logQuote(strings.Join(s.monitor.logs, "; "))
		if s.Welcome.Capabilities&contract.CanCommands == 0 {
			r.outcome, r.lacks = NotClaimed, contract.CanCommands
		}
	}
	return r
}

const afterFalseApogee = 1.5 // s after the apogee of the corrupt flight

// corruptSamples gives the samples of the next instant of another flight. One flipped bit in the CRC is all that is
// wrong with them.
func (s *tester) corruptSamples(ghost *samples) (out []byte) {
	now := s.now
	for line := range bytes.SplitAfterSeq(ghost.next(&s.Enc, &now), []byte{0}) {
		if len(line) > 0 {
			out = append(out, flipBit(line, -1)...)
		}
	}
	return out
}
