package conformance

import (
	"bytes"
	"fmt"
	"strings"

	"drystage/harness/board/contract"
)

// corruptCommands arms in every spoilt way, then truly, then disarms and stages in every spoilt way.
func corruptCommands(s *tester) result {
	sent := fmt.Sprintf("COMMAND arm spoilt in %d ways, then sound; then disarm and stage spoilt in as many", len(damages))
	if s.glows != "" {
		return s.cannotTell(sent)
	}
	if r, ok := s.started(true); !ok {
		return r
	}
	second := int(s.opt.Rates.IMU * armTime)
	if err := s.ticks(second); err != nil {
		return s.broke(err, sent)
	}
	for _, spoilt := range []uint8{contract.Arm, contract.Disarm, contract.Stage} {
		was := s.done
		if err := s.spoil(spoilt, second); err != nil {
			return s.broke(err, sent)
		}
		if s.done.Armed != was.Armed || s.done.Outputs != was.Outputs {
			return result{outcome: Fail, sent: sent, why: "the board acted on a corrupt COMMAND " + commandNames[spoilt],
				came: fmt.Sprintf("armed %d, outputs %016b, after armed %d, outputs %016b", s.done.Armed, s.done.Outputs, was.Armed, was.Outputs)}
		}
		if spoilt != contract.Arm {
			continue
		}
		if err := s.tick(s.command(contract.Arm)...); err != nil {
			return s.broke(err, sent)
		}
		if err := s.ticks(second); err != nil {
			return s.broke(err, sent)
		}
		if s.done.Armed == 0 {
			return result{sent: sent, came: "armed 0 throughout", why: "corrupt ones did nothing, but the sound one did nothing either" + quoted(strings.Join(s.watch.logs, "; "))}
		}
	}
	return result{outcome: Pass, sent: sent, came: "armed 1 after the sound arm alone, and still at the end; no output changed", why: "only the sound COMMAND was acted on"}
}

var commandNames = map[uint8]string{contract.Arm: "arm", contract.Disarm: "disarm", contract.Stage: "stage"}

// spoil sends a command in every spoilt way and waits until it would have worked.
func (s *tester) spoil(command uint8, wait int) error {
	for _, d := range damages {
		if err := s.tick(d.spoil(s.command(command))...); err != nil {
			return err
		}
	}
	return s.ticks(wait)
}

// corruptFlight arms the board on its pad and then sends, beside the sound samples of the pad, those of
// a whole flight with a CRC that does not match.
func corruptFlight(s *tester) result {
	sent := "COMMAND arm on the pad; then, beside sound samples of the pad, IMU and BARO of a whole flight, each with a wrong CRC"
	if s.glows != "" {
		return s.cannotTell(sent)
	}
	if r, ok := s.started(true); !ok {
		return r
	}
	if s.Welcome.Capabilities&contract.CanCommands != 0 {
		if err := s.ticks(int(s.opt.Rates.IMU * askAt)); err != nil {
			return s.broke(err, sent)
		}
		if err := s.tick(s.command(contract.Arm)...); err != nil {
			return s.broke(err, sent)
		}
	}
	if err := s.ticks(int(s.opt.Rates.IMU * armTime)); err != nil {
		return s.broke(err, sent)
	}
	armed, was, bad := s.done.Armed, s.done.Outputs, s.done.Bad
	ghost := s.samples
	ghost.launch = float64(ghost.k) / s.opt.Rates.IMU
	for range int((apogee() + falseFall) * s.opt.Rates.IMU) {
		if err := s.tick(s.spoiltSamples(&ghost)...); err != nil {
			return s.broke(err, sent)
		}
		if s.done.Outputs&^was != 0 || s.done.Armed != armed {
			return result{outcome: Fail, sent: sent, came: fmt.Sprintf("at %d us armed %d, outputs %016b; before armed %d, outputs %016b", s.now, s.done.Armed, s.done.Outputs, armed, was),
				why: "the board acted on corrupt samples: a frame whose check does not match must have no effect"}
		}
	}
	r := result{outcome: Pass, sent: sent, came: fmt.Sprintf("no output on; `bad` rose by %d", s.done.Bad-bad), why: "an armed board on its pad did nothing for a flight that came corrupt"}
	if s.done.Armed == 0 {
		r.outcome, r.why = Unsure, "the board was not armed, so that its darkness proves little"+quoted(strings.Join(s.watch.logs, "; "))
		if s.Welcome.Capabilities&contract.CanCommands == 0 {
			r.outcome, r.lacks = NotClaimed, contract.CanCommands
		}
	}
	return r
}

const falseFall = 1.5 // s after the apogee of a flight that never was

// spoiltSamples gives the samples of the next instant of another flight, each with a flipped bit in its
// CRC: nothing else speaks against them.
func (s *tester) spoiltSamples(ghost *samples) (out []byte) {
	now := s.now
	for line := range bytes.SplitAfterSeq(ghost.next(&s.Enc, &now), []byte{0}) {
		if len(line) > 0 {
			out = append(out, flip(line, -1)...)
		}
	}
	return out
}
