package conformance

import "fmt"

const numberTicks = 12 // the board's frames that are looked at come with these

// numbered looks at the numbers of the board's frames before much else relies on them. A board that
// does not count makes every frame look missing; that is told here, once.
func numbered(s *tester) result {
	s.unnumbered = false
	if r, ok := s.started(false); !ok {
		return r
	}
	sent := fmt.Sprintf("%d TICKs", numberTicks)
	s.seqs = s.seqs[:0]
	if err := s.ticks(numberTicks); err != nil {
		return s.broke(err, sent)
	}
	r := result{outcome: Pass, sent: sent, came: fmt.Sprintf("%d frames, each with the next number", len(s.seqs)), why: "a frame that goes missing will show"}
	step, steady := stride(s.seqs)
	if steady && step == 1 {
		return r
	}
	r.outcome, r.came = Fail, fmt.Sprintf("%d frames with the numbers %d", len(s.seqs), s.seqs[:min(len(s.seqs), numberTicks)])
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

// stride gives by how much numbers modulo 256 rise, and says if they always do by that.
func stride(numbers []uint8) (step uint8, steady bool) {
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
