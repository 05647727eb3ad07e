package conformance

import (
	"fmt"

	"drystage/harness/board/contract"
)

func circuitTests() []test {
	return []test{{name: "a circuit that opens or is shorted fires nothing, armed on the pad and in flight", contract: quote("CIRCUITS", "CIRCUITS.open", "CIRCUITS.shorted"), spec: "4, CIRCUITS",
		needs: contract.CanLockstep | contract.CanCommands | contract.CanCircuits, extra: true, try: circuitsFireNothing}}
}

const circuitTime = 0.25 // s for which each reading stands

// circuitsFireNothing arms the board, whose circuits all have their load, and then opens and shorts them, all together
// and the outputs of the armed flight one by one: on the pad, and again under thrust.
func circuitsFireNothing(s *tester) result {
	sent := "CIRCUITS with every load; COMMAND arm on the pad; CIRCUITS with each circuit open, then shorted, there and under thrust"
	if s.onAtStart != "" {
		return s.skipOnAtStart(sent)
	}
	if r, ok := s.armedFlight(sent); !ok {
		return r
	}
	if r, ok := s.beginRun(true); !ok {
		return r
	}
	if err := s.tick(s.circuits(0, 0)...); err != nil {
		return s.failed(err, sent)
	}
	if r, ok := s.armOnPad(sent); !ok {
		return r
	}
	readings := []contract.Circuits{{Open: 0xFFFF}, {Shorted: 0xFFFF}}
	for _, e := range s.armedResult.on {
		bit := uint16(1) << (e.channel - 1)
		readings = append(readings, contract.Circuits{Open: bit}, contract.Circuits{Shorted: bit})
	}
	ons := s.monitor.switchedOn
	for _, where := range []string{"on the pad", "in flight"} {
		if where == "in flight" {
			if err := s.tick(s.circuits(0, 0)...); err != nil {
				return s.failed(err, sent)
			}
			s.samples.launch = float64(s.samples.k) / s.opt.Rates.IMU
		}
		for _, m := range readings {
			if err := s.tick(s.circuits(m.Open, m.Shorted)...); err != nil {
				return s.failed(err, sent)
			}
			why := fmt.Sprintf("%s it fires when CIRCUITS says open %016b, shorted %016b: a wire that is lost is no reason to fire anything", where, m.Open, m.Shorted)
			if r, ok := s.staysOff(sent, ons, circuitTime, why); !ok {
				return r
			}
		}
	}
	return result{outcome: Pass, sent: sent, came: "no output on", why: "dark, whatever the check reads"}
}

func (s *tester) circuits(open, shorted uint16) []byte {
	return s.Enc.Circuits(nil, &contract.Circuits{Time: s.samples.at(), Open: open, Shorted: shorted})
}
