package conformance

import (
	"fmt"
	"math/bits"
	"slices"

	"drystage/harness/board/contract"
	"drystage/harness/board/session"
)

func handshakeTests() []test {
	return []test{
		{name: "WELCOME comes in time", contract: quote("HELLO", "WELCOME"), spec: "1 and 4, step 2", try: welcomeComes},
		{name: "WELCOME echoes each HELLO's nonce", contract: quote("HELLO.nonce", "WELCOME.nonce"), spec: "4, step 2", try: nonceEchoed},
		{name: "WELCOME speaks this version", contract: quote("HELLO.version", "WELCOME.version"), spec: "6", try: versionSpoken},
		{name: "WELCOME claims at most 16 outputs", contract: quote("WELCOME.channels"), spec: "7, WELCOME", try: channelsClaimed},
		{name: "WELCOME's numbers are little-endian", contract: "Integers are little-endian. " + quote("WELCOME.capabilities"), spec: "1", try: littleEndian},
	}
}

// welcomeComes makes the first handshake. Noise before WELCOME is allowed: a board that boots may send anything.
func welcomeComes(s *tester) result {
	sent := fmt.Sprintf("HELLO, version %d, mode %d (lockstep)", contract.Version, contract.Lockstep)
	w, err := s.hello()
	switch {
	case err == nil:
		s.greeted, s.Welcome = true, w
		s.Dec.Counts = contract.Counts{}
		s.monitor = monitor{}
	case session.NoAnswer(err) && s.ForeignWelcomes > 0:
		return result{outcome: Pass, sent: sent, came: fmt.Sprintf("%d WELCOME, with another nonce", s.ForeignWelcomes), why: "a WELCOME came within " + s.opt.Timeout.String()}
	default:
		r := s.failed(err, sent)
		if session.NoAnswer(err) {
			r.soft = false
			s.stopped = "the board does not answer HELLO"
			if odd := s.probeChecksum(); odd != "" {
				r.came, r.why = odd, "no answer to HELLO as it should be within "+s.opt.Timeout.String()+", but one "+odd
			} else {
				r.why += "; is the board powered, are speed and wiring right?"
			}
		}
		return r
	}
	return result{outcome: Pass, sent: sent, why: "within " + s.opt.Timeout.String(),
		came: fmt.Sprintf("WELCOME, version %d, %d outputs, offers %s, %d starts, name %q", w.Version, w.Channels,
			orNothing(capabilities(w.Capabilities)), w.Boots, contract.Text(w.Name[:]))}
}

func orNothing(s string) string {
	if s == "" {
		return "nothing"
	}
	return s
}

// nonceEchoed sends HELLO twice more: a board may echo one nonce by chance, or a fixed one.
func nonceEchoed(s *tester) result {
	if !s.greeted {
		s.stopped = "no WELCOME answers our HELLO"
	}
	for range 2 {
		_, err := s.hello()
		sent := fmt.Sprintf("HELLO with nonce %08x", s.Nonce)
		if session.NoAnswer(err) && s.ForeignWelcomes > 0 {
			return result{outcome: Fail, soft: s.greeted, sent: sent, came: fmt.Sprintf("WELCOME with nonce %08x", s.ForeignNonce), why: "a WELCOME that can't be told from one that answers somebody else"}
		}
		if err != nil {
			return s.failed(err, sent)
		}
	}
	return result{outcome: Pass, sent: "HELLO, twice, with two nonces", came: "WELCOME with each", why: "each nonce came back"}
}

func versionSpoken(s *tester) result {
	r := result{outcome: Pass, sent: fmt.Sprintf("HELLO, version %d", contract.Version), came: fmt.Sprintf("WELCOME, version %d", s.Welcome.Version), why: "both speak the same"}
	if s.Welcome.Version != contract.Version {
		r.outcome, r.why = Fail, fmt.Sprintf("wanted version %d; flash a firmware of this version", contract.Version)
		s.stopped = fmt.Sprintf("the board speaks version %d", s.Welcome.Version)
	}
	return r
}

// littleEndian checks the capabilities, the only number of WELCOME whose valid values are known beforehand: every board
// offers lockstep or real time, whose bits are in the lower byte.
func littleEndian(s *tester) result {
	const known, modes = uint16(1)<<len(capabilityNames) - 1, contract.CanLockstep | contract.CanRealTime
	claimed := s.Welcome.Capabilities
	r := result{outcome: Pass, sent: "HELLO", came: fmt.Sprintf("WELCOME, capabilities 0x%04X", claimed), why: "capabilities as this version has them"}
	if turned := bits.ReverseBytes16(claimed); claimed&modes == 0 && turned != 0 && turned&^known == 0 {
		r.outcome = Fail
		r.why = fmt.Sprintf("the board's byte order is wrong: with its bytes the other way round this is 0x%04X (%s)", turned, capabilities(turned))
		s.stopped = "the board's byte order is wrong"
	}
	return r
}

func channelsClaimed(s *tester) result {
	r := result{outcome: Pass, sent: "HELLO", came: fmt.Sprintf("WELCOME, %d outputs", s.Welcome.Channels), why: "DONE has a bit for each"}
	if s.Welcome.Channels > contract.MaxChannels {
		r.outcome, r.why = Fail, fmt.Sprintf("DONE tells only %d apart", contract.MaxChannels)
	}
	return r
}

// versionRefused sends a HELLO of the next version. The board must be silent, or name its own version in WELCOME; it
// must not claim the unknown version.
func versionRefused(s *tester) result {
	if r, ok := s.beginRun(false); !ok {
		return r
	}
	s.Reset(s.Nonce + 1)
	m := s.greeting()
	m.Version = contract.Version + 1
	sent := fmt.Sprintf("HELLO, version %d", m.Version)
	if err := s.Hello(&m); err != nil {
		return s.failed(err, sent)
	}
	p, err := s.await(contract.CodeWelcome, s.opt.Timeout)
	if session.NoAnswer(err) {
		if s.came > 0 {
			return result{sent: sent, came: fmt.Sprintf("%d bytes, no WELCOME among them", s.came), why: "neither silence nor an answer; look at the line"}
		}
		return s.thenTick(result{outcome: Pass, sent: sent, came: "nothing", why: "the board stays silent"})
	}
	if err != nil {
		return s.failed(err, sent)
	}
	var w contract.Welcome
	if err := w.Decode(p); err != nil {
		return s.failed(err, sent)
	}
	if w.Version != contract.Version {
		return result{outcome: Fail, sent: sent, came: fmt.Sprintf("WELCOME, version %d", w.Version),
			why: fmt.Sprintf("the board claims a version that it can't know; it must name %d, or be silent", contract.Version)}
	}
	return s.begunAnyway(sent)
}

// begunAnyway sends TICK to a board that has refused a version: no run may have begun.
func (s *tester) begunAnyway(sent string) result {
	r := result{outcome: Pass, sent: sent + ", then a TICK", came: fmt.Sprintf("WELCOME, version %d, and nothing", contract.Version),
		why: "the board names its own version, so that a host can refuse, and begins nothing"}
	err := s.Send(s.Enc.Tick(nil, &contract.Tick{Time: 1}))
	s.pending = s.pending[:0]
	var codes []contract.Code
	if err == nil {
		codes, err = s.listen(s.listenTime())
	}
	switch {
	case err != nil:
		return s.failed(err, r.sent)
	case slices.Contains(codes, contract.CodeDone):
		r.outcome, r.came, r.why = Fail, "WELCOME and DONE", "the board begins a run of a version that it does not speak"
		return r
	}
	return s.thenTick(r)
}

// thenTick makes a tick after a silence that was right. The counts of its DONE show whether the board received what
// was sent.
func (s *tester) thenTick(r result) result {
	if no, ok := s.beginRun(false); !ok {
		return no
	}
	if s.Welcome.Capabilities&contract.CanLockstep == 0 {
		return r
	}
	if err := s.tick(); err != nil {
		return s.failed(err, r.sent)
	}
	return r
}
