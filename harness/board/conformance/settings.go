package conformance

import (
	"fmt"
	"math"
	"slices"

	"drystage/harness/board/contract"
	"drystage/harness/setting"
)

func settingTests() []test {
	return []test{
		{name: "a setting that the board has is made and confirmed", contract: quote("SETTING", "ACCEPT", "ACCEPT.value", "ACCEPT.known"), spec: "4, step 3", needs: contract.CanLockstep | contract.CanSettings, try: settingKnown},
		{name: "a setting that the board has not is called unknown", contract: quote("ACCEPT", "ACCEPT.known"), spec: "4, step 3", needs: contract.CanLockstep | contract.CanSettings, try: settingUnknown},
		{name: "HELLO forgets settings, and one out of range changes nothing", contract: quote("HELLO", "ACCEPT.value"), spec: "4, steps 2 and 3",
			needs: contract.CanLockstep | contract.CanSettings, given: (*tester).namesOutput, try: settingsForgotten},
	}
}

// ask sends a SETTING and waits for ACCEPT.
func (s *tester) ask(name string, value int32) (contract.Accept, error) {
	m := contract.Setting{Value: value}
	var a contract.Accept
	contract.PutText(m.Name[:], name)
	if err := s.Send(s.Enc.Setting(nil, &m)); err != nil {
		return a, err
	}
	p, err := s.await(contract.CodeAccept, s.opt.Timeout)
	if err != nil {
		return a, err
	}
	return a, a.Decode(p)
}

func settingKnown(s *tester) result {
	if len(s.opt.Settings) == 0 {
		return result{sent: nothing, came: nothing, why: "the name of no setting of this board was given; give one with --set NAME=VALUE"}
	}
	if r, ok := s.beginRun(false); !ok {
		return r
	}
	sent := ""
	for _, x := range s.opt.Settings {
		value := contract.Milli(x.Value)
		sent = fmt.Sprintf("SETTING %s = %d", x.Name, value)
		a, err := s.ask(x.Name, value)
		if err != nil {
			return s.failed(err, sent)
		}
		r := result{outcome: Fail, sent: sent, came: acceptText(&a)}
		switch {
		case contract.Text(a.Name[:]) != x.Name:
			r.why = "ACCEPT answers for another setting"
		case a.Known != 1:
			r.why = "the board does not know the setting; is its name right?"
		case a.Value != value:
			r.why = "the board made it something else; is the value within its limits?"
		default:
			continue
		}
		return r
	}
	return result{outcome: Pass, sent: fmt.Sprintf("%d SETTINGs", len(s.opt.Settings)), came: "ACCEPT of each, with its name and value, known 1", why: "each was made and confirmed"}
}

func acceptText(a *contract.Accept) string {
	return fmt.Sprintf("ACCEPT %s = %d, known %d", contract.Text(a.Name[:]), a.Value, a.Known)
}

func settingUnknown(s *tester) result {
	const name = "conformance_no_such_one" // no board has it
	if r, ok := s.beginRun(false); !ok {
		return r
	}
	sent := "SETTING " + name + " = 7"
	a, err := s.ask(name, 7)
	if err != nil {
		return s.failed(err, sent)
	}
	r := result{outcome: Fail, sent: sent, came: acceptText(&a)}
	switch {
	case contract.Text(a.Name[:]) != name:
		r.why = "ACCEPT answers for another setting"
	case a.Known != 0:
		r.why = "a mistyped setting would seem to be made"
	default:
		r.outcome, r.why = Pass, "called unknown, by its name"
	}
	return r
}

// anOutput gives the first setting that names an output, and another output for it that the board has.
func (s *tester) anOutput() (name string, other int32) {
	for _, x := range s.opt.Settings {
		if !slices.ContainsFunc(s.opt.Known, func(d setting.Def) bool { return d.Name == x.Name && d.Kind == setting.Output }) {
			continue
		}
		for c := range min(s.Welcome.Channels, contract.MaxChannels) {
			if n := float64(c + 1); n != x.Value {
				return x.Name, contract.Milli(n)
			}
		}
	}
	return "", 0
}

func (s *tester) namesOutput() bool { name, _ := s.anOutput(); return name != "" }

// settingsForgotten asks what an output's setting is by a value that no board can take: ACCEPT gives the one kept. So it
// sees whether what was set before HELLO still holds. A firmware that keeps its settings flies the next rocket with them.
func settingsForgotten(s *tester) result {
	name, other := s.anOutput()
	const beyond = math.MaxInt32 // output 2147483.647
	sent := fmt.Sprintf("SETTING %s = %d, which no board has; = %d; HELLO; = %d again, twice", name, int32(beyond), other, int32(beyond))
	var kept [4]int32 // what ACCEPT gave after each
	for i, value := range []int32{beyond, other, beyond, beyond} {
		if i == 0 || i == 2 {
			if r, ok := s.beginRun(false); !ok {
				return r
			}
		}
		a, err := s.ask(name, value)
		if err != nil {
			return s.failed(err, sent)
		}
		kept[i] = a.Value
	}
	r := result{outcome: Fail, sent: sent, came: fmt.Sprintf("ACCEPT with %d, %d, %d and %d", kept[0], kept[1], kept[2], kept[3])}
	switch {
	case kept[1] != other:
		r.outcome, r.why = Unsure, "the board takes no other output here, so that nothing shows what it keeps"
	case kept[0] == beyond || kept[2] == beyond || kept[3] == beyond:
		r.why = "it took a value that is out of range; ACCEPT gives the one kept, and the board goes on with it"
	case kept[2] == other && kept[0] != other:
		r.why = "what was set before HELLO still holds after it: the next run begins with the settings of the one before"
	case kept[2] != kept[0] || kept[3] != kept[0]:
		r.why = "a value that was refused has changed the setting"
	default:
		r.outcome, r.why = Pass, "refused, and forgotten at HELLO"
	}
	return r
}
