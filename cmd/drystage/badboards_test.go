package main

import (
	"fmt"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"drystage/harness"
	"drystage/harness/board/boardtest"
	"drystage/harness/board/link"
	"drystage/harness/board/link/linktest"
	"drystage/harness/board/mock"
	"drystage/harness/judge/verdict"
	"drystage/harness/run"
)

// flyLinks flies the power-cut scenario, whose boards must do everything a board can, with the
// sustainer's board at one end of a link, and judges the record.
func flyLinks(t *testing.T, plan harness.Plan, sustainer link.Link) (rec *harness.Record, v harness.Verdict) {
	honest, err := mock.New("")
	require.NoError(t, err)
	links := map[string]link.Link{"sustainer": sustainer, "booster": link.Memory(honest)}
	plans := []harness.Plan{plan}
	b, err := run.Open(t.Context(), run.Options{Timeout: 50 * time.Millisecond, Link: func(role string) (link.Link, error) { return links[role], nil }}, plans)
	require.NoError(t, err)
	defer b.Close()
	require.NoError(t, b.Fly(t.Context(), plans, func(_ int, r *harness.Record) error {
		rec, v = r, verdict.Judge(r)
		return nil
	}))
	return rec, v
}

func powerCut(t *testing.T) harness.Plan { return plansOf(t, "scenarios/power-cut.yaml")[0] }

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
