package main

import (
	"cmp"
	"context"
	"fmt"
	"math/rand/v2"
	"os"
	"runtime"
	"slices"
	"strconv"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"drystage/harness"
	"drystage/harness/board"
	"drystage/harness/board/boardtest"
	"drystage/harness/board/link/linktest"
	"drystage/harness/judge/verdict"
	"drystage/harness/run/loop"
	"drystage/sim"
)

// Ways in which a run is corrupted: the accidents of a line, by their kind, and what else can happen.
const (
	restartSilent = int(linktest.Muted) + 1 + iota // the board starts anew, and says nothing of it
	restartTold                                    // it starts anew and announces that
	chopped                                        // nothing is wrong, but bytes come one by one
	corruptions
)

func corruptionName(k int) string {
	switch k {
	case restartSilent:
		return "restart, silent"
	case restartTold:
		return "restart, announced"
	case chopped:
		return "one byte at a time"
	}
	return linktest.Kind(k).String()
}

// corruptedFirst is the number of the first run, 0 unless DRYSTAGE_CORRUPTED_FIRST says otherwise.
func corruptedFirst(t *testing.T) int {
	n, err := strconv.Atoi(cmp.Or(os.Getenv("DRYSTAGE_CORRUPTED_FIRST"), "0"))
	require.NoError(t, err, "DRYSTAGE_CORRUPTED_FIRST is the number of a run")
	return n
}

// corruptedRuns is how many runs are flown: DRYSTAGE_CORRUPTED, or what a check has time for.
func corruptedRuns(t *testing.T) int {
	if text := os.Getenv("DRYSTAGE_CORRUPTED"); text != "" {
		n, err := strconv.Atoi(text)
		require.NoError(t, err, "DRYSTAGE_CORRUPTED is a number of runs")
		return n
	}
	if testing.Short() {
		return 1000
	}
	return 20_000
}

// TestCorruptedRuns flies a few seconds around staging, apogee and main again and again, each time with
// an accident on the line or in the board: run i is the same each time. The real client speaks to the
// real board through a link that is spoilt, and the real verdict judges. What the board truly did is
// tapped inside the link. No run may pass with an output that is missing, too many or at another time, or
// fail although everything that was demanded happened; none may hang or panic.
//
// The samples are those of the honest flight: what a misfired output would have done to the flight is
// left out here, and flown in TestCorruptedFlights.
func TestCorruptedRuns(t *testing.T) {
	slow(t)
	parts := cut(t)
	first, runs, began := corruptedFirst(t), corruptedRuns(t), time.Now()
	var next atomic.Int64
	var workers sync.WaitGroup
	tallies := make([]corruptTally, runtime.GOMAXPROCS(0))
	for w := range tallies {
		workers.Go(func() {
			rec := new(harness.Record)
			for {
				i := first + int(next.Add(1)) - 1
				if i >= first+runs || t.Failed() {
					return
				}
				part := &parts[i/corruptions%len(parts)]
				r := rand.New(rand.NewPCG(uint64(i), 2026))
				end := part.fly(r, i%corruptions, rec)
				tallies[w].add(i%corruptions, &end)
				if end.lie != "" {
					t.Errorf("%s, %s: %s\n%s\nrepeat: DRYSTAGE_CORRUPTED_FIRST=%d DRYSTAGE_CORRUPTED=1 go test -run TestCorruptedRuns ./cmd/drystage",
						part.name, corruptionName(i%corruptions), end.lie, end.story, i)
				}
			}
		})
	}
	workers.Wait()
	var all corruptTally
	for w := range tallies {
		all.join(&tallies[w])
	}
	took := time.Since(began)
	t.Logf("%d runs in %s, %.0f a second\n%s", runs, took.Round(time.Millisecond), float64(runs)/took.Seconds(), &all)
	all.sensible(t, runs)
}

// tally counts verdicts by what corrupted the run.
type corruptTally struct {
	answers [corruptions][3]int
	misled  [corruptions]int // the board truly did something else than it must
}

func (c *corruptTally) add(kind int, e *ending) {
	c.answers[kind][e.answer]++
	if e.misled {
		c.misled[kind]++
	}
}

func (c *corruptTally) join(o *corruptTally) {
	for k := range corruptions {
		for a := range o.answers[k] {
			c.answers[k][a] += o.answers[k][a]
		}
		c.misled[k] += o.misled[k]
	}
}

func (c *corruptTally) String() string {
	var b strings.Builder
	fmt.Fprintf(&b, "%-20s %9s %9s %9s %9s\n", "corrupted by", "pass", "fail", "unsure", "misfired")
	for k := range corruptions {
		n := c.answers[k]
		fmt.Fprintf(&b, "%-20s %9d %9d %9d %9d\n", corruptionName(k), n[harness.Pass], n[harness.Fail], n[harness.Unsure], c.misled[k])
	}
	return b.String()
}

// sensible holds the counts against what must come of so many runs, so that the test can't succeed by
// having looked at nothing.
func (c *corruptTally) sensible(t *testing.T, runs int) {
	if t.Failed() || runs < 1000 {
		return
	}
	require.Equal(t, [3]int{harness.Pass: c.answers[chopped][harness.Pass]}, c.answers[chopped], "slow is not wrong")
	for k := range corruptions {
		if k != chopped {
			n := c.answers[k]
			require.Greater(t, n[harness.Unsure]+n[harness.Fail], 8*n[harness.Pass], "%s", corruptionName(k))
		}
	}
	// Two accidents at once can look like the RESTART that was asked for: it is lost, and the board starts
	// anew by itself before the HELLO that would have shown it. Nothing tells them apart; what is
	// demanded must be so all the same.
	require.Less(t, 10_000*(c.answers[restartSilent][harness.Pass]+c.answers[restartTold][harness.Pass]), runs)
	misled := 0
	for _, n := range c.misled {
		misled += n
	}
	require.Positive(t, misled, "some accidents change what the board does")
}

// ending is how a run ended.
type ending struct {
	answer harness.Answer
	misled bool   // the board truly did something that the scenario forbids, or left out what it demands
	lie    string // what the verdict has wrong; empty: nothing
	story  string
}

// fly flies the stretch once, corrupted.
func (s *stretch) fly(r *rand.Rand, kind int, rec *harness.Record) ending {
	b, l := s.corrupted(r, kind)
	s.begin(rec)
	c := s.client.Fork(l)
	if err := loop.Run(context.Background(), &replay{ticks: s.ticks}, []board.Board{c}, loop.Lockstep{}, rec); err != nil {
		return ending{lie: err.Error()}
	}
	v := verdict.Judge(rec)
	e := ending{answer: v.Answer, misled: !equalLit(b.tap.Edges, s.sound)}
	if e.lie = s.lie(&v, rec, &b.tap); e.lie != "" {
		e.story = fmt.Sprintf("%s\nhonest %v\ntrue   %v\nrecord %v\nhealth %+v, cause %q\n%+v",
			b.story(), s.sound, b.tap.Edges, rec.Outputs, rec.Health, rec.Cause, v.Findings)
	}
	return e
}

// lie says what a verdict has wrong, held against what the board truly did.
func (s *stretch) lie(v *harness.Verdict, rec *harness.Record, tap *boardtest.Tap) string {
	if v.Answer == harness.Unsure {
		return ""
	}
	is := verdict.Judge(s.truth(rec, tap)).Answer
	switch seen := edgesOf(rec.Outputs[len(s.before.Outputs):]); {
	case v.Answer == harness.Fail && is == harness.Pass:
		return "it fails, and all that was demanded truly happened"
	case v.Answer == harness.Fail:
		return ""
	case is != harness.Pass:
		return "it passes, and what truly happened is " + is.String()
	case !equalLit(seen, tap.Edges), !s.cuts() && !slices.Equal(seen, tap.Edges):
		return "it passes, and the record holds other outputs than the board's"
	case !slices.Equal(channels(tap.Edges), channels(s.sound)):
		return "it passes, and the board switched on other outputs than in the honest flight"
	case tap.Refused != 0:
		return fmt.Sprintf("it passes, and the board has refused or missed %d frames", tap.Refused)
	}
	return ""
}

// cuts says that the supply fails in the stretch: a board without it can't say when its outputs go off.
func (s *stretch) cuts() bool {
	return slices.ContainsFunc(s.ticks, func(t sim.Tick) bool { return !t.Frames[0].Powered })
}

// truth is the record with the outputs that were tapped, over a line that is whole. What the other boards
// did stays.
func (s *stretch) truth(rec *harness.Record, tap *boardtest.Tap) *harness.Record {
	is := *rec
	is.Outputs = slices.Clone(s.before.Outputs)
	for _, o := range tap.Edges {
		is.Outputs = append(is.Outputs, harness.Edge{Output: o, Within: board.EdgeUncertainty(&s.plan.Setup.Bays[0].Sensors)})
	}
	for _, e := range rec.Outputs {
		if e.Bay != 0 {
			is.Outputs = append(is.Outputs, e)
		}
	}
	is.Health = slices.Clone(rec.Health)
	h := rec.Health[0]
	is.Health[0] = harness.Health{Name: h.Name, Boots: h.Boots, Unasked: h.Unasked, RoundTrips: h.RoundTrips}
	return &is
}
