package conformance

import (
	"bytes"
	"errors"
	"fmt"

	"drystage/harness/board/contract"
	"drystage/harness/board/session"
)

func damageTests() (out []test) {
	for i, d := range corruptions {
		if i == resyncPlace {
			out = append(out, test{name: "the board finds its way again after garbage", contract: quote("DONE.bad", "TICK"), spec: "1", needs: contract.CanLockstep, try: resync})
		}
		out = append(out, test{name: "corrupt: " + d.name, contract: quote("DONE.bad", "DONE.lost"), spec: "2", needs: contract.CanLockstep,
			try: func(s *tester) result { return corruptFrame(s, d) }})
	}
	return append(out,
		test{name: "missing sequence numbers are counted", contract: quote("DONE.lost"), spec: "1", needs: contract.CanLockstep, try: missingFrames},
		test{name: "a sequence number sent twice is counted, and time does not go on twice", contract: quote("DONE.lost", "DONE.time"), spec: "1 and 4, lockstep", needs: contract.CanLockstep, try: repeatedFrame},
	)
}

// corruptFrame sends a corrupt TICK between sound ones. The board must count it once and must not answer it.
func corruptFrame(s *tester, d corruption) result {
	if r, ok := s.beginRun(false); !ok {
		return r
	}
	sent := "TICK, a spoilt TICK of another time, TICK, TICK"
	at := func(t uint32) []byte { return s.Enc.Tick(nil, &contract.Tick{Time: s.now + t}) }
	if err := s.ticks(3); err != nil {
		return s.failed(err, sent)
	}
	out := bytes.Join([][]byte{at(0x0101), d.apply(at(0x0155)), at(0x0202)}, nil)
	bad := s.done.Bad
	err := s.exchange(out)
	if err == nil {
		err = s.exchange(at(0x0303))
	}
	var wrong errTime
	if errors.As(err, &wrong) {
		r := result{outcome: Fail, sent: sent, came: err.Error(), why: "the board acted on a corrupt frame"}
		s.actsOnCorrupt = wrong.got-s.now == 0x0155
		if wrong.got-s.now == 0x0202 || wrong.got-s.now == 0x0303 {
			r.soft, r.why = true, "a sound TICK was not answered"
		}
		return r
	}
	if err != nil {
		return s.failed(err, sent)
	}
	return s.judgeCounts(sent, fmt.Sprintf("DONE for the sound ones alone; `bad` rose by %d", s.done.Bad-bad))
}

// judgeCounts checks that the board counted what the shadow decoder counted.
func (s *tester) judgeCounts(sent, came string) result {
	if s.done.Bad == 65535 || s.done.Lost == 65535 {
		return result{sent: sent, came: came, why: "the board's counts stand at their end; restart it and try again"}
	}
	if len(s.countErrors) > 0 {
		r := result{outcome: Fail, soft: true, sent: sent, came: s.countErrors[0], why: "the board does not count what has come"}
		if m := s.lastMiscount; m.bad == m.wantBad && m.lost < m.wantLost {
			r.why = "the board took over the number of a frame whose check does not match: nothing of a corrupt frame may be used, not even its number"
		}
		return r
	}
	return result{outcome: Pass, sent: sent, came: came, why: "counted as the contract's own decoder counts"}
}

// resync sends bytes that are no frame, with and without delimiters.
func resync(s *tester) result {
	if r, ok := s.beginRun(false); !ok {
		return r
	}
	sent := "1300 bytes of garbage in three heaps, with and without delimiters, a TICK behind each"
	for _, heap := range [][]byte{bytes.Repeat([]byte{0x55}, 500), bytes.Repeat([]byte{0, 7, 0xFF, 0xA5, 0}, 60), s.garbage(500)} {
		if err := s.ticks(2); err != nil {
			return s.failed(err, sent)
		}
		s.now += 1000
		err := s.exchange(s.Enc.Tick(append(heap, 0), &contract.Tick{Time: s.now}))
		if err == nil {
			continue
		}
		r := s.failed(err, sent)
		if session.NoAnswer(err) {
			r.why = "the board is deaf after garbage: a sound TICK behind a delimiter was not answered; at the next delimiter it must hear again"
		}
		return r
	}
	return s.judgeCounts(sent, "DONE of each TICK behind garbage")
}

// garbage gives random bytes, the same for the same seed.
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

// missingFrames leaves out frames, once 200 of them, across the wrap of the sequence number.
func missingFrames(s *tester) result {
	if r, ok := s.beginRun(false); !ok {
		return r
	}
	sent := "TICKs with 1, then 2, then 200 frames left out before them"
	lost := s.done.Lost
	for i, n := range []int{0, 1, 2, 200, 0} {
		for range n {
			s.Enc.Bye(nil, &contract.Bye{}) // not sent, but its number is used
		}
		if err := s.tick(); err != nil {
			return s.failed(err, sent)
		}
		if i == 0 {
			lost = s.done.Lost
		}
	}
	return s.judgeCounts(sent, fmt.Sprintf("`lost` rose by %d", s.done.Lost-lost))
}

// repeatedFrame sends a TICK and the same bytes again. By sequence number, 255 frames are then missing. The board may
// answer once or twice, but always with the TICK's time.
func repeatedFrame(s *tester) result {
	if r, ok := s.beginRun(false); !ok {
		return r
	}
	sent := "the same TICK twice, then another"
	if err := s.ticks(2); err != nil {
		return s.failed(err, sent)
	}
	lost := s.done.Lost
	s.now += 1000
	line := s.Enc.Tick(nil, &contract.Tick{Time: s.now})
	if err := s.exchange(line); err != nil {
		return s.failed(err, sent)
	}
	err := s.exchange(line)
	if err != nil && !session.NoAnswer(err) {
		return s.failed(err, sent)
	}
	once := err != nil
	s.now += 1000
	if err := s.exchange(s.Enc.Tick(nil, &contract.Tick{Time: s.now})); err != nil {
		return s.failed(err, sent)
	}
	came := fmt.Sprintf("DONE for both, `lost` rose by %d", s.done.Lost-lost)
	if once {
		came = fmt.Sprintf("DONE for one of both, `lost` rose by %d", s.done.Lost-lost)
	}
	return s.judgeCounts(sent, came)
}
