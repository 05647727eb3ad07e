package audit_test

import (
	"bytes"
	"cmp"
	"fmt"
	"math/rand/v2"
	"os"
	"reflect"
	"slices"
	"strconv"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"drystage/harness"
	"drystage/harness/board/link/linktest"
	"drystage/harness/files/record"
	"drystage/harness/files/scenario"
	"drystage/harness/judge/audit"
	"drystage/harness/judge/verdict"
	"drystage/sim"
	"drystage/sim/world"
)

// wordAlone are the places that nothing else in a record bears out: what is changed there can make a record pass
// that did not. firmware-contract/SECURITY.md names them, with the reason.
var wordAlone = map[string]string{
	"Reports[].At":     "when a board says that it reported is its word alone",
	"Reports[].Apogee": "the number in a board's report is its word alone",
}

const (
	ignites = "{fires: sustainer.ignite, from: booster.burnout + 1.5 s, to: booster.burnout + 2.2 s}, {once: sustainer.ignite}"
	alive   = "{alive: sustainer}, {alive: booster}"
)

// flights are what is mutated: each on an honest board, and on one that does not pass.
var flights = []struct {
	reason, defect string
	short
	accidents []linktest.Fault
}{
	{reason: "a charge that fires on the pad", defect: "fires-at-power-up", short: short{"nominal", "booster.burnout + 0.3 s", "{never: sustainer.drogue}, " + alive}},
	{reason: "an igniter lit too early", short: short{"nominal", "booster.burnout + 2.6 s", "{fires: sustainer.ignite, from: booster.burnout + 2.1 s, to: booster.burnout + 2.4 s}, " + alive}},
	{reason: "lit when it should stay dark", short: short{"nominal", "booster.burnout + 2.6 s", "{never: sustainer.ignite}"}},
	{reason: "lit while lying over", defect: "ignores-tilt", short: short{"staging-tilt", "booster.burnout + 2.6 s", "{never: sustainer.ignite}, " + alive}},
	{reason: "lit too slow", short: short{"nominal", "booster.burnout + 2.6 s", ignites + ", {firing: sustainer.ignite, quantity: airspeed, at_least: 140 m/s}"}},
	{reason: "never lit", short: short{"nominal", "booster.burnout + 1.2 s", "{fires: sustainer.ignite, from: booster.burnout + 0.5 s, to: booster.burnout + 1 s}"}},
	{reason: "restarts, and forgets", defect: "forgets-on-restart", short: short{"restart-coast", "booster.burnout + 2.6 s", ignites + ", {alive: sustainer}"}},
	{reason: "a fault that never came", short: short{"ejection-spike", "liftoff + 0.5 s", alive}},
	{reason: "frames lost on the way from the board", short: short{"nominal", "booster.burnout + 2.6 s", ignites + ", " + alive}, accidents: []linktest.Fault{{Kind: linktest.Lost, Direction: linktest.FromBoard, At: 9000, Size: 20}}},
	{reason: "frames flipped on the way to the board", short: short{"nominal", "booster.burnout + 2.6 s", ignites + ", " + alive}, accidents: []linktest.Fault{{Kind: linktest.Flipped, Direction: linktest.ToBoard, At: 9000, Size: 4, Bits: 3}}},
	{reason: "a board that falls silent", short: short{"nominal", "booster.burnout + 0.3 s", "{never: sustainer.drogue}, " + alive}, accidents: []linktest.Fault{{Kind: linktest.Muted, Direction: linktest.FromBoard, At: 15000}}},
	{reason: "nothing is demanded of what happens", short: short{"nominal", "booster.burnout + 0.3 s", "{fires: sustainer.main, from: apogee, to: apogee + 30 s}"}},
	{reason: "a report that is off", short: short{"nominal", "booster.burnout + 1.5 s", "{report: apogee_height, board: sustainer, within: 1 mm}, " + alive}},
}

// base is a record that does not pass, and a twin that nothing was wrong with, if that one passes.
type base struct {
	reason    string
	rec, twin *harness.Record
	truth     *harness.Record // a copy that nobody mutates
	answer    harness.Answer
	opt       audit.Options
}

func bases(t *testing.T) (all []base) {
	for _, x := range flights {
		plan := x.plan(t)
		b := base{reason: x.reason, rec: copyOf(t, fly(t, &plan, x.defect, x.accidents...))}
		b.truth = copyOf(t, b.rec)
		doubts := audit.Audit(b.rec, audit.Options{Made: made})
		assert.Empty(t, doubts, "%s: an honest record", x.reason)
		b.answer = verdict.Judge(b.rec, doubts...).Answer
		assert.NotEqual(t, harness.Pass, b.answer, x.reason)
		twin := copyOf(t, fly(t, &plan, ""))
		if len(audit.Audit(twin, audit.Options{Made: made})) == 0 && verdict.Judge(twin).Answer == harness.Pass {
			b.twin = twin
		}
		b.opt = b.options()
		all = append(all, b)
	}
	return all
}

// copyOf writes a record and reads it again.
func copyOf(t testing.TB, rec *harness.Record) *harness.Record {
	again, err := throughBytes(rec)
	require.NoError(t, err)
	return again
}

func throughBytes(rec *harness.Record) (*harness.Record, error) {
	var b bytes.Buffer
	if err := record.Write(&b, rec); err != nil {
		return nil, err
	}
	again, err := record.Read(&b)
	return &again, err
}

// options audits with the flight of the truth, as long as setup and felt outputs are those of the truth: the same
// world would give the same ticks again.
func (b *base) options() audit.Options {
	truth := b.truth
	return audit.Remembering(audit.Options{Made: made, Source: func(p *harness.Plan, felt []sim.Output) (sim.Source, error) {
		if slices.Equal(felt, truth.FlightOutputs) && audit.Same(&p.Setup, &truth.Plan.Setup) {
			return &played{rec: truth}, nil
		}
		return world.New(&p.Setup), nil
	}}, &truth.Plan)
}

// played gives the ticks of a record that was flown just so, with its events where the world gives them all.
type played struct {
	rec  *harness.Record
	next int
	tick sim.Tick
}

func (p *played) Step([]sim.Output) (*sim.Tick, bool) {
	r, i := p.rec, p.next
	if i == r.Ticks() {
		return nil, false
	}
	stages, bays := len(r.Plan.Setup.Vehicle.Stages), len(r.Plan.Setup.Bays)
	p.tick = sim.Tick{Now: r.Times[i], Active: r.Active[i], States: r.States[i*stages : (i+1)*stages], Frames: r.Frames[i*bays : (i+1)*bays], Warnings: r.Warnings}
	for _, x := range r.Injected {
		if x.At == p.tick.Now {
			p.tick.Injected = append(p.tick.Injected, x)
		}
	}
	if p.next++; i == 0 {
		p.tick.Events = r.Events
	}
	return &p.tick, p.next < r.Ticks() || r.Cause != ""
}

// first is the number of the first mutation, 0 unless DRYSTAGE_MUTATIONS_FIRST says otherwise.
func first(t *testing.T) int {
	n, err := strconv.Atoi(cmp.Or(os.Getenv("DRYSTAGE_MUTATIONS_FIRST"), "0"))
	require.NoError(t, err, "DRYSTAGE_MUTATIONS_FIRST is the number of a mutation")
	return n
}

// runs is how many mutations are tried: DRYSTAGE_MUTATIONS, or what a check has time for.
func runs(t *testing.T) int {
	n, err := strconv.Atoi(cmp.Or(os.Getenv("DRYSTAGE_MUTATIONS"), "8000"))
	require.NoError(t, err, "DRYSTAGE_MUTATIONS is a number")
	return n
}

// TestNoMutationPasses changes one place of a record that does not pass, with all checksums right again: it is
// refused, or it still does not pass.
func TestNoMutationPasses(t *testing.T) {
	places, n, began := classes(reflect.TypeFor[harness.Record](), "", nil), runs(t), time.Now()
	from := first(t)
	refused, doubted, saved, passed := 0, 0, 0, 0
	met, groups, all := make([]bool, len(places)), grouped(places), bases(t)
	for i := from; i < from+n && !t.Failed(); i++ {
		r := rand.New(rand.NewPCG(uint64(i), 2028))
		b, k := &all[r.IntN(len(all))], i%len(places)
		if r.IntN(2) == 0 { // what decides has fewer kinds of places than what a vehicle is made of
			parts := groups[r.IntN(len(groups))]
			k = parts[r.IntN(len(parts))]
		}
		met[k] = true
		switch answer, alone, doubts, err := b.mutated(r, &places[k]); {
		case err != nil:
			refused++
		case answer == harness.Pass && wordAlone[places[k].name] != "":
			passed++
		case answer == harness.Pass:
			t.Errorf("mutation %d of %q: %s: it was %s, and passes\nrepeat: DRYSTAGE_MUTATIONS_FIRST=%d DRYSTAGE_MUTATIONS=1 go test -run TestNoMutationPasses ./harness/judge/audit",
				i, places[k].name, b.reason, b.answer, i)
		case doubts > 0:
			doubted++
			if alone == harness.Pass {
				saved++
			}
		}
	}
	for k := range places {
		assert.True(t, n < 40*len(places) || t.Failed() || met[k], places[k].name)
	}
	assert.True(t, n < 5000 || saved > 0, "some of them would pass if the audit did not doubt them")
	t.Logf("%d mutations of %d kinds of places in %d records in %s: %d refused, %d doubted by the audit, of which %d would pass without it; 0 pass, but for %d by the word of a board alone",
		n, len(places), len(flights), time.Since(began).Round(time.Second), refused, doubted, saved, passed)
}

// mutated judges the record with one place changed, with its audit and without, and puts it back.
func (b *base) mutated(r *rand.Rand, c *class) (audited, alone harness.Answer, doubts int, err error) {
	undo := c.mutate(r, b.rec, b.twin)
	defer undo()
	if digest := b.rec.Plan.Digest; r.IntN(2) == 0 && !slices.EqualFunc(b.rec.Plan.Files, b.truth.Plan.Files, func(x, y harness.File) bool { return x == y }) {
		if p, problems := scenario.Again(b.rec.Plan.Files, b.rec.Plan.File); len(problems) == 0 {
			b.rec.Plan.Digest = p.Digest // made right again
			defer func() { b.rec.Plan.Digest = digest }()
		}
	}
	rec := b.rec
	if r.IntN(8) == 0 { // a record comes back as it was written; TestEveryFieldSurvives proves that
		if rec, err = throughBytes(rec); err != nil {
			return 0, 0, 0, fmt.Errorf("refused: %w", err)
		}
	}
	found := audit.Audit(rec, b.opt)
	return verdict.Judge(rec, found...).Answer, verdict.Judge(rec).Answer, len(found), nil
}
