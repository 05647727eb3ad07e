package conformance

import (
	"fmt"

	"drystage/harness/board/contract"
)

func settingTests() []test {
	return []test{
		{name: "a setting that the board has is made and confirmed", contract: quote("SETTING", "ACCEPT", "ACCEPT.value", "ACCEPT.known"), spec: "4, step 3", needs: contract.CanLockstep | contract.CanSettings, try: settingKnown},
		{name: "a setting that the board has not is called unknown", contract: quote("ACCEPT", "ACCEPT.known"), spec: "4, step 3", needs: contract.CanLockstep | contract.CanSettings, try: settingUnknown},
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
