package main

import (
	"fmt"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"

	"drystage/harness"
	"drystage/harness/board"
	"drystage/harness/board/link"
	"drystage/harness/board/mock"
	"drystage/harness/judge/verdict"
	"drystage/harness/run/loop"
	"drystage/sim"
	"drystage/sim/world"
)

// TestCorruptedFlights flies whole flights in closed loop, from the pad to the ground, with accidents on
// the sustainer's line anywhere: here a misfired output changes the flight, and the samples after it.
func TestCorruptedFlights(t *testing.T) {
	slow(t)
	plans := map[string]harness.Plan{}
	for _, p := range shippedPlans(t) {
		plans[p.Name] = p
	}
	var parts []stretch
	for _, name := range []string{"nominal", "power-cut"} {
		rec, _ := honest(t, plans[name], sim.Never)
		s := stretch{name: name}
		s.take(rec, 0, sim.Never)
		g, err := mock.New("")
		require.NoError(t, err)
		s.guest, s.client = g, board.NewClient(nil, plans[name].Boards[0], &plans[name].Setup.Bays[0], board.Options{})
		s.listen(t)
		s.plan, s.before = plans[name], harness.Record{}
		parts = append(parts, s)
	}
	flights := max(corruptedRuns(t)/2000, corruptions)
	var all corruptTally
	for i := range flights {
		s := &parts[i/corruptions%len(parts)]
		e := s.closed(t, rand.New(rand.NewPCG(uint64(i), 2027)), i%corruptions)
		all.add(i%corruptions, &e)
		require.Empty(t, e.lie, "flight %d, %s, %s\n%s", i, s.name, corruptionName(i%corruptions), e.story)
	}
	t.Logf("%d flights\n%s", flights, &all)
}

// closed flies the whole flight once, corrupted, with what the boards do driving the flight.
func (s *stretch) closed(t *testing.T, r *rand.Rand, kind int) ending {
	b, l := s.corrupted(r, kind)
	other, err := mock.New("")
	require.NoError(t, err)
	p := &s.plan
	boards := []board.Board{s.client.Fork(l), board.NewClient(link.Memory(other), p.Boards[1], &p.Setup.Bays[1], board.Options{})}
	rec := &harness.Record{Plan: *p}
	require.NoError(t, loop.Run(t.Context(), world.New(&p.Setup), boards, loop.Lockstep{}, rec))
	v := verdict.Judge(rec)
	e := ending{answer: v.Answer, misled: !equalLit(b.tap.Edges, s.sound), lie: s.lie(&v, rec, &b.tap)}
	if e.lie != "" {
		e.story = fmt.Sprintf("%s\ntrue   %v\nrecord %v\nhealth %+v, cause %q", b.story(), b.tap.Edges, rec.Outputs, rec.Health, rec.Cause)
	}
	return e
}
