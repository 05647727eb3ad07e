package conformance

import (
	"fmt"
	"time"

	"drystage/harness/board/contract"
	"drystage/harness/board/session"
)

func clockTests() []test {
	return []test{{name: "in real time, SYNC is answered by SYNCED of its time", contract: quote("SYNC", "SYNCED.time", "SYNCED.board_time"), spec: "4, real time",
		needs: contract.CanRealTime, extra: true, try: synced}}
}

const syncs = 8

// synced begins a real-time run and asks for the board's clock. It checks that the clock never goes back, not how
// accurate it is.
func synced(s *tester) result {
	if r, ok := s.beginRun(false); !ok {
		return r
	}
	sent := fmt.Sprintf("HELLO, mode %d (real time), %d SYNCs", contract.RealTime, syncs)
	s.Reset(s.Nonce + 1)
	m := s.greeting()
	m.Mode = contract.RealTime
	s.monitor.realTime = true
	if err := s.Hello(&m); err != nil {
		return s.failed(err, sent)
	}
	if _, err := s.await(contract.CodeWelcome, s.opt.Timeout); err != nil {
		return s.failed(err, sent)
	}
	last := uint32(0)
	for k := range uint32(syncs) {
		s.now = (k + 1) * 20_000
		if err := s.Send(s.Enc.Sync(nil, &contract.Sync{Time: s.now})); err != nil {
			return s.failed(err, sent)
		}
		p, err := s.await(contract.CodeSynced, s.opt.Timeout)
		if err != nil {
			return s.failed(err, sent)
		}
		var a contract.Synced
		if err := a.Decode(p); err != nil {
			return s.failed(err, sent)
		}
		r := result{outcome: Fail, sent: sent, came: fmt.Sprintf("SYNCED of %d us, board's clock %d us, for SYNC of %d us", a.Time, a.BoardTime, s.now)}
		switch {
		case a.Time != s.now:
			r.why = "SYNCED must say which SYNC it answers"
			return r
		case a.BoardTime < last:
			r.why = fmt.Sprintf("the board's clock went back, from %d us", last)
			return r
		}
		last = a.BoardTime
	}
	return result{outcome: Pass, sent: sent, came: fmt.Sprintf("%d SYNCEDs, the board's clock at last %d us", syncs, last), why: "each was answered, and the clock never went back"}
}

// pace keeps samples and the clock of a real-time board together: it waits if the next sample would come too early,
// and delays the samples if it would come too late. An instant link needs no pacing.
func (s *tester) pace() error {
	if s.Instant {
		return nil
	}
	at := s.samples.at()
	if err := s.Send(s.Enc.Sync(nil, &contract.Sync{Time: at})); err != nil {
		return err
	}
	p, err := s.await(contract.CodeSynced, s.opt.Timeout)
	if err != nil {
		return err
	}
	var a contract.Synced
	if err := a.Decode(p); err != nil {
		return err
	}
	if ahead := int64(at) - int64(a.BoardTime); ahead > 0 {
		time.Sleep(min(time.Duration(ahead)*time.Microsecond, session.ContextCheck))
	} else {
		s.samples.late += uint32(-ahead)
	}
	return nil
}

// paced sends the next sample in real time.
func (s *tester) paced(more func() []byte) error {
	if err := s.pace(); err != nil {
		return err
	}
	var out []byte
	if more != nil {
		out = more()
	}
	return s.tick(out...)
}
