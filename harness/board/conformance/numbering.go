package conformance

import "fmt"

const numberedTicks = 12 // TICKs whose answers are checked

// numbered checks the sequence numbers of the board's frames before other points rely on them. If a board does not
// count, every frame looks missing; that is reported here, once.
func numbered(s *tester) result {
	s.unnumbered = false
	if r, ok := s.beginRun(false); !ok {
		return r
	}
	sent := fmt.Sprintf("%d TICKs", numberedTicks)
	s.seqs = s.seqs[:0]
	if err := s.ticks(numberedTicks); err != nil {
		return s.failed(err, sent)
	}
	r := result{outcome: Pass, sent: sent, came: fmt.Sprintf("%d frames, each with the next number", len(s.seqs)), why: "a frame that goes missing will show"}
	step, steady := increment(s.seqs)
	if steady && step == 1 {
		return r
	}
	r.outcome, r.came = Fail, fmt.Sprintf("%d frames with the numbers %d", len(s.seqs), s.seqs[:min(len(s.seqs), numberedTicks)])
	switch {
	case steady && step == 0:
		r.why = "the board's sequence number is stuck: it must rise by one with every frame that is sent"
	case steady:
		r.why = fmt.Sprintf("the board's sequence number rises by %d: it must rise by one with every frame that is sent", step)
	default:
		r.soft, r.why = true, "the board's sequence number must rise by one with every frame that is sent, whatever its type"
	}
	s.unnumbered = true
	return r
}

// increment gives the difference of successive numbers modulo 256, and says if it is always the same.
func increment(numbers []uint8) (step uint8, steady bool) {
	if len(numbers) < 3 {
		return 0, false
	}
	step = numbers[1] - numbers[0]
	for i, n := range numbers[1:] {
		if n-numbers[i] != step {
			return step, false
		}
	}
	return step, true
}
