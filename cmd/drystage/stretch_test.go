package main

import (
	"context"
	"fmt"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"

	"drystage/harness"
	"drystage/harness/board"
	"drystage/harness/board/boardtest"
	"drystage/harness/board/contract"
	"drystage/harness/board/link"
	"drystage/harness/board/link/linktest"
	"drystage/harness/board/mock"
	"drystage/harness/judge/verdict"
	"drystage/harness/run/loop"
	"drystage/sim"
	"drystage/sim/world"
)

// The stretches of flight that are flown again and again. What has to be so in each of them comes from
// its scenario, and that nothing else fires.
var stretches = []struct {
	scenario string
	around   string // an event, or an output of the sustainer's board
	from, to sim.Time
	fires    []int // channels that switch on in it
}{
	{"nominal", "ignite", -700 * sim.Millisecond, 1500 * sim.Millisecond, []int{1}},
	{"nominal", "drogue", -1 * sim.Second, 1500 * sim.Millisecond, []int{2}},
	{"nominal", "main", -1 * sim.Second, 1500 * sim.Millisecond, []int{3}},
	{"staging-tilt", sim.EventSeparation, -1 * sim.Second, 2500 * sim.Millisecond, nil},
	{"power-cut", "ignite", -500 * sim.Millisecond, 2500 * sim.Millisecond, []int{1}},
	{"command-good", "ignite", -700 * sim.Millisecond, 1500 * sim.Millisecond, []int{1}},
}

// stretch is a part of an honest flight of the sustainer's board, ready to be flown again.
type stretch struct {
	name   string
	plan   harness.Plan
	ticks  []sim.Tick
	before harness.Record // what had happened when it begins, and the flight's events up to its end
	guest  *mock.Board    // in the state in which it begins
	client *board.Client
	sound  []sim.Output // edges of the honest board
	marks  [][2]int     // per tick: bytes that the line has carried before it, each way
	busy   []int        // ticks in which an output switches, a command is given or the power changes
}

// cut flies each scenario honestly and cuts its stretch out.
func cut(t *testing.T) (parts []stretch) {
	plans := map[string]harness.Plan{}
	for _, p := range shippedPlans(t) {
		plans[p.Name] = p
	}
	for _, x := range stretches {
		plan := plans[x.scenario]
		require.Equal(t, "sustainer", plan.Setup.Bays[0].Name)
		whole, _ := honest(t, plan, sim.Never)
		at, ok := sim.Anchor{Event: x.around}.In(whole.Events)
		for _, e := range whole.Outputs {
			if !ok && e.Bay == 0 && e.On && nameOf(&plan, e.Channel) == x.around {
				at, ok = e.At, true
			}
		}
		require.True(t, ok, "%s: %s", x.scenario, x.around)
		s := stretch{name: x.scenario + " around " + x.around}
		_, photo := honest(t, plan, at+x.from)
		s.guest, s.client = photo.guest, photo.client
		s.take(whole, at+x.from, at+x.to)
		s.listen(t)
		require.Equal(t, x.fires, channels(s.sound), s.name)
		require.Greater(t, len(s.plan.Expect), 3, s.name)
		parts = append(parts, s)
	}
	return parts
}

func nameOf(p *harness.Plan, channel int) string {
	for _, w := range p.Setup.Bays[0].Wires {
		if w.Channel == channel {
			return w.Name
		}
	}
	return ""
}

// camera is a board that is remembered as it was at one instant.
type camera struct {
	board.Board
	at     sim.Time
	guest  *mock.Board
	client *board.Client
	taken  bool
}

func (c *camera) Exchange(ctx context.Context, f *sim.Frame, r *harness.Reply) error {
	if !c.taken && f.Now >= c.at {
		c.taken, c.guest, c.client = true, c.guest.Fork(), c.client.Fork(nil)
	}
	return c.Board.Exchange(ctx, f, r)
}

// honest flies a whole plan, and takes a picture of the sustainer's board on the way.
func honest(t *testing.T, plan harness.Plan, at sim.Time) (*harness.Record, *camera) {
	var boards []board.Board
	var photo *camera
	for i := range plan.Boards {
		g, err := mock.New("")
		require.NoError(t, err)
		c := board.NewClient(link.Memory(g), plan.Boards[i], &plan.Setup.Bays[i], board.Options{})
		if i == 0 {
			photo = &camera{Board: c, at: at, guest: g, client: c}
			boards = append(boards, photo)
			continue
		}
		boards = append(boards, c)
	}
	rec := &harness.Record{Plan: plan}
	require.NoError(t, loop.Run(t.Context(), world.New(&plan.Setup), boards, loop.Lockstep{}, rec))
	require.Equal(t, harness.Pass, verdict.Judge(rec).Answer, plan.Name)
	return rec, photo
}

// take cuts the record of a whole flight down to one board and one stretch of time.
func (s *stretch) take(whole *harness.Record, from, to sim.Time) {
	stages := len(whole.Plan.Setup.Vehicle.Stages)
	for i, now := range whole.Times {
		if now < from || now > to {
			continue
		}
		s.ticks = append(s.ticks, sim.Tick{Now: now, Active: whole.Active[i], States: whole.States[i*stages : (i+1)*stages],
			Frames: []sim.Frame{*whole.Frame(i, 0)}})
	}
	s.plan = whole.Plan
	s.plan.Boards, s.plan.Setup.Bays = s.plan.Boards[:1], s.plan.Setup.Bays[:1]
	s.plan.Setup.Until = sim.Anchor{Offset: s.ticks[len(s.ticks)-1].Now}
	for _, e := range whole.Events {
		if e.At <= to {
			s.before.Events = append(s.before.Events, e)
		}
	}
	for _, e := range whole.Outputs {
		if e.Bay == 0 && e.At < from {
			s.before.Outputs = append(s.before.Outputs, e)
		}
	}
}

// listen flies the stretch unspoilt, looks where on the line what happens, and finds out which of the
// scenario's expectations it decides.
func (s *stretch) listen(t *testing.T) {
	m := &meter{Link: link.Memory(s.guest.Fork())}
	src := &replay{ticks: s.ticks, look: func(i int, outs []sim.Output) {
		f := &s.ticks[i].Frames[0]
		if i > 0 && (len(outs) > 0 || f.Powered != s.ticks[i-1].Frames[0].Powered) {
			s.busy = append(s.busy, i-1)
		}
		if f.Commands != 0 {
			s.busy = append(s.busy, i)
		}
		s.marks = append(s.marks, m.n)
	}}
	rec := new(harness.Record)
	s.begin(rec)
	require.NoError(t, loop.Run(t.Context(), src, []board.Board{s.client.Fork(m)}, loop.Lockstep{}, rec))
	require.True(t, rec.Complete(), rec.Cause)
	s.marks = append(s.marks, m.n)
	s.sound = edgesOf(rec.Outputs[len(s.before.Outputs):])
	fired := map[int]bool{}
	for _, e := range rec.Outputs {
		fired[e.Channel] = true
	}
	all := s.plan.Expect
	s.plan.Expect = nil
	for _, w := range s.plan.Setup.Bays[0].Wires {
		e := harness.Expectation{Kind: harness.Once, Output: harness.Channel{Channel: w.Channel, Name: w.Name}, Text: w.Name + " once"}
		if !fired[w.Channel] {
			e.Kind, e.Text = harness.Never, w.Name+" never"
		}
		s.plan.Expect = append(s.plan.Expect, e)
	}
	for _, e := range all { // what can be told here of the whole flight's demands
		rec.Plan.Expect = []harness.Expectation{e}
		if e.Output.Bay == 0 && e.Bay == 0 && e.Kind != harness.Reports && verdict.Judge(rec).Answer == harness.Pass {
			s.plan.Expect = append(s.plan.Expect, e)
		}
	}
	rec.Plan = s.plan
	require.Equal(t, harness.Pass, verdict.Judge(rec).Answer, "%s unspoilt", s.name)
}

// begin empties a record and puts in what had happened before.
func (s *stretch) begin(rec *harness.Record) {
	rec.Plan = s.plan
	rec.Reset()
	rec.Events = append(rec.Events, s.before.Events...)
	rec.Outputs = append(rec.Outputs, s.before.Outputs...)
}

// draw makes up what happens in one run: half of it near the moments that matter, most of it once.
func (s *stretch) draw(r *rand.Rand, kind int) (what []linktest.Fault, restart int) {
	if restart = -1; kind == chopped {
		return nil, restart
	}
	n := 1 + max(0, r.IntN(6)-3) // 1 to 3, mostly 1
	for i := range n {
		k := kind
		if i > 0 {
			k = r.IntN(restartSilent)
		}
		way := linktest.Direction(r.IntN(2))
		if k >= restartSilent {
			restart = s.place(r, linktest.ToBoard)
			continue
		}
		a := linktest.Fault{Kind: linktest.Kind(k), Direction: way, At: s.place(r, way), Size: 1, Bits: r.Uint64()}
		switch few := r.IntN(2) == 0; {
		case few && a.Kind == linktest.Flipped:
			a.Bits = 1 << r.IntN(8)
		case !few && a.Kind == linktest.Flipped:
			a.Size = 1 + r.IntN(8)
		case !few:
			a.Size = 1 + r.IntN(150)
		}
		what = append(what, a)
	}
	return what, restart
}

// place gives a place on the line, in bytes of one way.
func (s *stretch) place(r *rand.Rand, way linktest.Direction) int {
	i := r.IntN(len(s.ticks))
	if len(s.busy) > 0 && r.IntN(2) == 0 {
		i = min(max(s.busy[r.IntN(len(s.busy))]+r.IntN(5)-2, 0), len(s.ticks)-1)
	}
	from, to := s.marks[i][way], s.marks[i+1][way]
	return from + r.IntN(max(to-from, 1))
}

// replay is a flight that goes as it went, whatever the outputs do.
type replay struct {
	ticks []sim.Tick
	next  int
	look  func(tick int, outs []sim.Output) // before each
}

func (p *replay) Step(outs []sim.Output) (*sim.Tick, bool) {
	if p.next == len(p.ticks) {
		return nil, false
	}
	if p.look != nil {
		p.look(p.next, outs)
	}
	p.next++
	return &p.ticks[p.next-1], p.next < len(p.ticks)
}

// meter counts the bytes of a link, each way.
type meter struct {
	link.Link
	n [2]int
}

func (m *meter) Instant() bool { return true }

func (m *meter) Write(b []byte) (int, error) {
	n, err := m.Link.Write(b)
	m.n[linktest.ToBoard] += n
	return n, err
}

func (m *meter) Read(b []byte) (int, error) {
	n, err := m.Link.Read(b)
	m.n[linktest.FromBoard] += n
	return n, err
}

// breaker is a tapped board that starts anew once, in front of a byte that comes to it.
type breaker struct {
	board *mock.Board
	tap   boardtest.Tap
	at    int // bytes to the board; negative: never
	n     int
	told  bool

	what    []linktest.Fault
	restart int // at, from the start
}

// story tells how it was corrupted.
func (b *breaker) story() string {
	return fmt.Sprintf("accidents %+v, restart at byte %d", b.what, b.restart)
}

func (b *breaker) Feed(in, out []byte) []byte {
	if k := b.at - b.n; b.at >= 0 && k >= 0 && k < len(in) {
		b.n += k
		out = b.tap.Feed(in[:k], out)
		var e contract.Encoder
		b.board.Feed(e.Restart([]byte{0}, &contract.Restart{}), nil)
		if b.told {
			out = e.Welcome(append(out, 0), &contract.Welcome{Version: contract.Version, Channels: contract.MaxChannels, Boots: max(b.tap.Boots, 1) + 1})
		}
		b.at, in = -1, in[k:]
	}
	b.n += len(in)
	return b.tap.Feed(in, out)
}

// edgesOf gives the edges of the sustainer's board.
func edgesOf(es []harness.Edge) (outs []sim.Output) {
	for _, e := range es {
		if e.Bay == 0 {
			outs = append(outs, e.Output)
		}
	}
	return outs
}

// lit gives the edges that switch on.
func lit(outs []sim.Output) []sim.Output {
	return slices.DeleteFunc(slices.Clone(outs), func(o sim.Output) bool { return !o.On })
}

// equalLit says that two boards switched on the same outputs at the same times.
func equalLit(a, b []sim.Output) bool { return slices.Equal(lit(a), lit(b)) }

func channels(outs []sim.Output) (cs []int) {
	for _, o := range lit(outs) {
		cs = append(cs, o.Channel)
	}
	return cs
}

// corrupted gives a board that breaks, and the link to it with its accidents.
func (s *stretch) corrupted(r *rand.Rand, kind int) (b *breaker, l link.Link) {
	what, restart := s.draw(r, kind)
	b = &breaker{board: s.guest.Fork(), what: what, restart: restart, at: restart, told: kind == restartTold}
	b.tap.Board = b.board
	if kind == chopped {
		return b, linktest.OneByte(link.Memory(b))
	}
	return b, linktest.Inject(link.Memory(b), what...)
}
