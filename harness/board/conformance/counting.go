package conformance

import (
	"bytes"
	"errors"
	"fmt"

	"drystage/harness/board/contract"
	"drystage/harness/board/session"
)

func damageTests() (out []test) {
	for i, d := range damages {
		if i == bothHear {
			out = append(out, test{name: "the board finds its way again after garbage", contract: says("DONE.bad", "TICK"), spec: "1", needs: contract.CanLockstep, try: resync})
		}
		out = append(out, test{name: "corrupt: " + d.name, contract: says("DONE.bad", "DONE.lost"), spec: "2", needs: contract.CanLockstep,
			try: func(s *tester) result { return corrupt(s, d) }})
	}
	return append(out,
		test{name: "missing sequence numbers are counted", contract: says("DONE.lost"), spec: "1", needs: contract.CanLockstep, try: missing},
		test{name: "a sequence number sent twice is counted, and time does not go on twice", contract: says("DONE.lost", "DONE.time"), spec: "1 and 4, lockstep", needs: contract.CanLockstep, try: twice},
	)
}

// corrupt sends a spoilt TICK between sound ones. It must be counted once and not be answered.
func corrupt(s *tester, d damage) result {
	if r, ok := s.started(false); !ok {
		return r
	}
	sent := "TICK, a spoilt TICK of another time, TICK, TICK"
	at := func(t uint32) []byte { return s.Enc.Tick(nil, &contract.Tick{Time: s.now + t}) }
	if err := s.ticks(3); err != nil {
		return s.broke(err, sent)
	}
	out := bytes.Join([][]byte{at(0x0101), d.spoil(at(0x0155)), at(0x0202)}, nil)
	bad := s.done.Bad
	err := s.exchange(out)
	if err == nil {
		err = s.exchange(at(0x0303))
	}
	var wrong errTime
	if errors.As(err, &wrong) {
		r := result{outcome: Fail, sent: sent, came: err.Error(), why: "the board acted on a corrupt frame"}
		s.credulous = wrong.got-s.now == 0x0155
		if wrong.got-s.now == 0x0202 || wrong.got-s.now == 0x0303 {
			r.soft, r.why = true, "a sound TICK was not answered"
		}
		return r
	}
	if err != nil {
		return s.broke(err, sent)
	}
	return s.counted(sent, fmt.Sprintf("DONE for the sound ones alone; `bad` rose by %d", s.done.Bad-bad))
}

// counted looks whether the board counted what our own decoder did.
func (s *tester) counted(sent, came string) result {
	if s.done.Bad == 65535 || s.done.Lost == 65535 {
		return result{sent: sent, came: came, why: "the board's counts stand at their end; restart it and try again"}
	}
	if len(s.strange) > 0 {
		r := result{outcome: Fail, soft: true, sent: sent, came: s.strange[0], why: "the board does not count what has come"}
		if m := s.mis; m.bad == m.wantBad && m.lost < m.wantLost {
			r.why = "the board took over the number of a frame whose check does not match: nothing of a corrupt frame may be used, not even its number"
		}
		return r
	}
	return result{outcome: Pass, sent: sent, came: came, why: "counted as the contract's own decoder counts"}
}

// resync sends what no frame is, with and without delimiters.
func resync(s *tester) result {
	if r, ok := s.started(false); !ok {
		return r
	}
	sent := "1300 bytes of garbage in three heaps, with and without delimiters, a TICK behind each"
	for _, heap := range [][]byte{bytes.Repeat([]byte{0x55}, 500), bytes.Repeat([]byte{0, 7, 0xFF, 0xA5, 0}, 60), s.garbage(500)} {
		if err := s.ticks(2); err != nil {
			return s.broke(err, sent)
		}
		s.now += 1000
		err := s.exchange(s.Enc.Tick(append(heap, 0), &contract.Tick{Time: s.now}))
		if err == nil {
			continue
		}
		r := s.broke(err, sent)
		if session.NoAnswer(err) {
			r.why = "the board is deaf after garbage: a sound TICK behind a delimiter was not answered; at the next delimiter it must hear again"
		}
		return r
	}
	return s.counted(sent, "DONE of each TICK behind garbage")
}

// garbage gives bytes of chance, the same for the same seed.
func (s *tester) garbage(n int) []byte {
	b, x := make([]byte, n), s.opt.Seed|1
	for i := range b {
		x ^= x << 13 // Marsaglia, Journal of Statistical Software 8(14), 2003
		x ^= x >> 17
		x ^= x << 5
		b[i] = byte(x >> 11)
	}
	return b
}

// missing leaves out frames, and once 200 of them, across the wrap of the numbers.
func missing(s *tester) result {
	if r, ok := s.started(false); !ok {
		return r
	}
	sent := "TICKs with 1, then 2, then 200 frames left out before them"
	lost := s.done.Lost
	for i, n := range []int{0, 1, 2, 200, 0} {
		for range n {
			s.Enc.Bye(nil, &contract.Bye{}) // its number is spent
		}
		if err := s.tick(); err != nil {
			return s.broke(err, sent)
		}
		if i == 0 {
			lost = s.done.Lost
		}
	}
	return s.counted(sent, fmt.Sprintf("`lost` rose by %d", s.done.Lost-lost))
}

// twice sends a TICK and the same bytes again. The numbers say that 255 frames are missing then. It may
// be answered once or twice, but always with its own time.
func twice(s *tester) result {
	if r, ok := s.started(false); !ok {
		return r
	}
	sent := "the same TICK twice, then another"
	if err := s.ticks(2); err != nil {
		return s.broke(err, sent)
	}
	lost := s.done.Lost
	s.now += 1000
	line := s.Enc.Tick(nil, &contract.Tick{Time: s.now})
	if err := s.exchange(line); err != nil {
		return s.broke(err, sent)
	}
	err := s.exchange(line)
	if err != nil && !session.NoAnswer(err) {
		return s.broke(err, sent)
	}
	once := err != nil
	s.now += 1000
	if err := s.exchange(s.Enc.Tick(nil, &contract.Tick{Time: s.now})); err != nil {
		return s.broke(err, sent)
	}
	came := fmt.Sprintf("DONE for both, `lost` rose by %d", s.done.Lost-lost)
	if once {
		came = fmt.Sprintf("DONE for one of both, `lost` rose by %d", s.done.Lost-lost)
	}
	return s.counted(sent, came)
}
