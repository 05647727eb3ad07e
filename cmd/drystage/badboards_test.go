package main

import (
	"fmt"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"drystage/harness"
	"drystage/harness/board"
	"drystage/harness/board/boardtest"
	"drystage/harness/board/link"
	"drystage/harness/board/link/linktest"
	"drystage/harness/board/mock"
	"drystage/harness/judge/verdict"
	"drystage/harness/run/loop"
	"drystage/sim/world"
)

// flyLinks flies the power-cut scenario, whose boards must do everything a board can, with the
// sustainer's board at one end of a link, and judges the record.
func flyLinks(t *testing.T, plan harness.Plan, sustainer link.Link) (*harness.Record, harness.Verdict) {
	honest, err := mock.New("")
	require.NoError(t, err)
	var boards []board.Board
	for i, l := range []link.Link{sustainer, link.Memory(honest)} {
		c := board.NewClient(l, plan.Boards[i], &plan.Setup.Bays[i], board.Options{Timeout: 50 * time.Millisecond})
		defer c.Close()
		boards = append(boards, c)
	}
	rec := &harness.Record{Plan: plan}
	require.NoError(t, loop.Run(t.Context(), world.New(&plan.Setup), boards, loop.Lockstep{}, rec))
	return rec, verdict.Judge(rec)
}

func powerCut(t *testing.T) harness.Plan {
	plans, err := (&benchCmd{Paths: []string{"scenarios/power-cut.yaml"}}).load(&desk{err: t.Output()})
	require.NoError(t, err)
	return plans[0]
}

// TestBadBoardsNeverPass puts every board that breaks the contract into a real scenario.
func TestBadBoardsNeverPass(t *testing.T) {
	plan := powerCut(t)
	for flaw := range boardtest.Fatal() {
		t.Run(fmt.Sprint(flaw), func(t *testing.T) {
			rec, v := flyLinks(t, plan, link.Memory(boardtest.NewFake(flaw)))
			require.NotEqual(t, harness.Pass, v.Answer)
			require.False(t, rec.Complete())
			require.NotEmpty(t, rec.Cause)
		})
	}
}

// TestSpoiltLinksNeverPass cuts, silences, floods and flips the bytes of an honest board's link: the
// verdict may be that of the whole flight only when the link was merely slow.
func TestSpoiltLinksNeverPass(t *testing.T) {
	slow(t)
	plan := powerCut(t)
	guest := func() link.Link {
		g, err := mock.New("")
		require.NoError(t, err)
		return link.Memory(g)
	}
	_, v := flyLinks(t, plan, linktest.OneByte(guest()))
	require.Equal(t, harness.Pass, v.Answer, "one byte at a time is slow, but right: %+v", v.Findings)

	spoilt := map[string]link.Link{"silent": linktest.Silent(guest()), "flood of zeros": linktest.Flood(guest(), 0), "flood of text": linktest.Flood(guest(), 'x')}
	for n := 1; n < 1_000_000; n = n*3 + 7 {
		spoilt[fmt.Sprintf("cut after byte %d", n)] = linktest.CutAfter(guest(), n)
		spoilt[fmt.Sprintf("byte %d flipped", n)] = linktest.Flip(guest(), n)
	}
	for name, l := range spoilt {
		t.Run(name, func(t *testing.T) {
			rec, v := flyLinks(t, plan, l)
			require.NotEqual(t, harness.Pass, v.Answer, "%+v", rec.Health)
		})
	}
}
