package board_test

import (
	"context"
	"errors"
	"testing"

	"drystage/harness"
	"drystage/harness/board"
	"drystage/harness/board/boardtest"
	"drystage/sim"
	"github.com/stretchr/testify/assert"
)

// liar wraps a good board and breaks one rule.
type liar struct {
	board.Board
	twist func(f *sim.Frame, r *harness.Reply)
	eager bool // counts frames that are not due
	open  bool // goes on after Close
	extra int
}

func (l *liar) Exchange(ctx context.Context, f *sim.Frame, r *harness.Reply) error {
	err := l.Board.Exchange(ctx, f, r)
	if l.twist != nil {
		l.twist(f, r)
	}
	if l.eager && !f.Due {
		l.extra++
	}
	if l.open && errors.Is(err, board.ErrClosed) {
		return nil
	}
	return err
}

func (l *liar) Health() harness.Health {
	h := l.Board.Health()
	h.RoundTrips += l.extra
	return h
}

func TestCheckFindsLiars(t *testing.T) {
	good := func() board.Board { return client(memory(boardtest.None)) }
	edge := func(on bool, at sim.Time) func(*sim.Frame, *harness.Reply) {
		return func(f *sim.Frame, r *harness.Reply) {
			if f.Now == at {
				r.Outputs = append(r.Outputs, harness.Edge{Output: sim.Output{Channel: 2, On: on, At: at}})
			}
		}
	}
	for _, c := range []struct {
		b    board.Board
		want string
	}{
		{&liar{Board: good(), twist: edge(false, 0)}, "changes nothing"},
		{&liar{Board: good(), twist: edge(true, 230*sim.Millisecond)}, "without power"},
		{&liar{Board: good(), twist: edge(true, 50*sim.Millisecond)}, "stays on while the supply is off"},
		{&liar{Board: good(), twist: func(f *sim.Frame, r *harness.Reply) {
			if f.Now == 300*sim.Millisecond {
				r.Outputs = append(r.Outputs, harness.Edge{Output: sim.Output{Channel: 2, On: true, At: 0}})
			}
		}}, "out of order"},
		{&liar{Board: good(), eager: true}, "not due was sent"},
		{&liar{Board: good(), open: true}, "a closed board still exchanges"},
		{&liar{Board: good(), extra: 1}, "37 exchanges counted, wanted 36"},
		{client(memory(boardtest.RestartsOnce)), "3 handshakes and 1 restarts of its own"},
		{client(memory(boardtest.ArmsItself)), "the link is not whole"},
		{client(memory(boardtest.LosesEdge)), "the link is not whole"},
		{client(memory(boardtest.Mute)), "the session broke"},
	} {
		assert.ErrorContains(t, boardtest.Check(c.b), c.want)
	}
}
