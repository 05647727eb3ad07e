package conformance

import (
	"fmt"
	"maps"
	"slices"
	"strings"

	"drystage/harness/board/contract"
	"drystage/harness/setting"
)

func assignedTests() []test {
	return []test{{name: "outputs switch where SETTING puts them, up to the last one", contract: quote("SETTING", "ACCEPT.value", "WELCOME.channels", "DONE.outputs"), spec: "4, step 3",
		needs: contract.CanLockstep | contract.CanSettings | contract.CanCommands, given: (*tester).canMove, try: assigned}}
}

// canMove says that a setting names an output that can be another one.
func (s *tester) canMove() bool {
	_, moved := s.moveOutputs()
	return len(moved) > 0
}

// moveOutputs gives the settings with their outputs moved to the last channels of the board, or of those that have a
// dummy load; and which channel became which.
func (s *tester) moveOutputs() (moved map[string]float64, channels map[uint8]uint8) {
	moved, channels = map[string]float64{}, map[uint8]uint8{}
	next := min(s.Welcome.Channels, contract.MaxChannels)
	for _, x := range s.opt.Settings {
		i := slices.IndexFunc(s.opt.Known, func(d setting.Def) bool { return d.Name == x.Name && d.Kind == setting.Output })
		if i < 0 || x.Value < 1 || x.Value > float64(s.Welcome.Channels) {
			continue
		}
		for next > 0 && (s.noLoad(next) || float64(next) > s.opt.Known[i].Max) {
			next--
		}
		if next == 0 {
			return nil, nil
		}
		moved[x.Name], channels[uint8(x.Value)] = float64(next), next
		next--
	}
	if !slices.ContainsFunc(slices.Collect(maps.Keys(channels)), func(c uint8) bool { return channels[c] != c }) {
		return nil, nil
	}
	return moved, channels
}

// assigned flies the armed flight with its outputs on other channels. A board that confirms a setting and doesn't use
// it switches the old ones; one that keeps outputs in too few bits loses the last ones.
func assigned(s *tester) result {
	moved, channels := s.moveOutputs()
	var names []string
	for _, x := range s.opt.Settings {
		if c, ok := moved[x.Name]; ok {
			names = append(names, fmt.Sprintf("%s = %g (before %g)", x.Name, c, x.Value))
		}
	}
	sent := "SETTING " + strings.Join(names, ", ") + "; COMMAND arm, and samples of a flight"
	if s.onAtStart != "" {
		return s.skipOnAtStart(sent)
	}
	if s.movedShown != "" {
		return result{outcome: Pass, sent: sent, came: s.movedShown, why: "each output where its setting has put it"}
	}
	if r, ok := s.armedFlight(sent); !ok {
		return r
	}
	if len(s.armedResult.on) == 0 {
		return result{sent: sent, came: nothing, why: "not tried: the board does nothing in this flight as it was set before"}
	}
	if r, ok := s.beginMoved(sent, moved); !ok {
		return r
	}
	x, err := s.flyUntil(true, len(s.armedResult.on))
	if err != nil {
		return s.failed(err, sent)
	}
	return s.judgeMoved(sent, &x, channels)
}

// beginMoved begins a run with settings of which some are moved.
func (s *tester) beginMoved(sent string, moved map[string]float64) (r result, ok bool) {
	if len(moved) == 0 {
		return s.beginRun(true)
	}
	if r, ok := s.beginRun(false); !ok {
		return r, false
	}
	for _, x := range s.opt.Settings {
		if c, ok := moved[x.Name]; ok {
			x.Value = c
		}
		a, err := s.ask(x.Name, contract.Milli(x.Value))
		if err != nil {
			return s.failed(err, sent), false
		}
		if a.Known != 1 || a.Value != contract.Milli(x.Value) {
			return result{sent: sent, came: acceptText(&a), why: fmt.Sprintf("WELCOME claims %d outputs, and the board refuses one of them for this job", s.Welcome.Channels)}, false
		}
	}
	return r, true
}

// judgeMoved compares a flight with moved outputs with the armed one.
func (s *tester) judgeMoved(sent string, x *flightResult, channels map[uint8]uint8) result {
	rate := s.opt.Rates.IMU
	r := result{outcome: Pass, sent: sent, came: onText(x.on, rate), why: "each output where its setting has put it"}
	why := s.unlikeArmed(x, s.armedResult.on, channels)
	if why == "" {
		return r
	}
	r.outcome, r.why = Fail, "as it was set before, "+onText(s.armedResult.on, rate)+"; now, "+why
	for _, e := range x.on {
		if to, ok := channels[e.channel]; ok && to != e.channel && !slices.Contains(slices.Collect(maps.Values(channels)), e.channel) {
			r.why = fmt.Sprintf("the board confirms a SETTING and ignores it: output %d still switches, where output %d was set", e.channel, to)
		}
	}
	if len(x.on) == 0 && x.armed > 0 {
		r.why = fmt.Sprintf("the board claims %d outputs, and its last ones don't show: are they kept in too few bits?", s.Welcome.Channels)
	}
	return r
}
