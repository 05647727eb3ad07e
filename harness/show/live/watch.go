package live

import (
	"time"

	"drystage/harness"
	"drystage/sim"
)

// every is the time from sample to sample on the wall, and lookEvery at least in the flight.
const every = 50 * time.Millisecond

// scene is the first message of a scenario.
type scene struct {
	Name, Title string
	N, Of       int
	Launch      float64
	Stages      []string
	Outputs     []string
	Boards      []string
}

// sample is a message about one instant.
type sample struct {
	T       float64
	Heights []float64
	Speed   float64
	Told    []told // by board
	Late    float64
}

// told is what a board has reported last, and the health of its link.
type told struct {
	Phase            string
	Height           float64
	Bad, Lost, Boots int
	Reports          int
}

// need is a window of an output that is known now.
type need struct {
	Output   int
	Never    bool
	From, To float64
	Text     string
}

type edge struct {
	Output int
	On     bool
	T      float64
}

type event struct {
	Name string
	T    float64
}

// watcher is a source of ticks that tells what passes through it.
type watcher struct {
	sim.Source
	hub    *Hub
	rec    *harness.Record
	began  time.Time
	last   time.Time
	needed []bool // by expectation
	told   []told
	seen   int // reports
	outs   []harness.Channel
}

// Watch tells a flight while it goes on: its source in a wrapper that the loop steps. It reads the record only from the
// goroutine that fills it.
func (h *Hub) Watch(rec *harness.Record, src sim.Source) sim.Source {
	p := &rec.Plan
	h.scenes++
	s := scene{Name: p.Name, Title: p.Title, N: h.scenes, Of: h.of, Launch: p.Setup.Launch.Seconds()}
	w := &watcher{Source: src, hub: h, rec: rec, began: time.Now(), needed: make([]bool, len(p.Expect)), told: make([]told, len(p.Setup.Bays))}
	for i := range p.Setup.Vehicle.Stages {
		s.Stages = append(s.Stages, p.Setup.Vehicle.Stages[i].Name)
	}
	for i := range p.Setup.Bays {
		s.Boards = append(s.Boards, p.Setup.Bays[i].Name)
		for _, x := range p.Setup.Bays[i].Wires {
			name := p.Setup.Bays[i].Name + "." + x.Name
			s.Outputs, w.outs = append(s.Outputs, name), append(w.outs, harness.Channel{Bay: i, Channel: x.Channel, Name: name})
		}
	}
	h.tell(map[string]any{"scene": s})
	w.needs(nil)
	return w
}

// output gives the number of an output; -1 of one that no file declares.
func (w *watcher) output(bay, channel int) int {
	for i, c := range w.outs {
		if c.Bay == bay && c.Channel == channel {
			return i
		}
	}
	return -1
}

// Step passes a step on, and tells what is new.
func (w *watcher) Step(outs []sim.Output) (*sim.Tick, bool) {
	for _, o := range outs {
		if i := w.output(o.Bay, o.Channel); i >= 0 {
			w.hub.tell(map[string]any{"edge": edge{i, o.On, finite(o.At.Seconds())}})
		}
	}
	t, ok := w.Source.Step(outs)
	if t == nil {
		return t, ok
	}
	if len(t.Events) > 0 {
		for _, e := range t.Events {
			w.hub.tell(map[string]any{"event": event{e.Name, finite(e.At.Seconds())}})
		}
		w.needs(t.Events)
	}
	w.pace(t.Now)
	if now := time.Now(); now.Sub(w.last) >= every || !ok {
		w.last = now
		w.hub.tell(map[string]any{"sample": w.sample(t)})
	}
	return t, ok
}

// pace slows a run that isn't paced by itself.
func (w *watcher) pace(now sim.Time) {
	if w.hub.speed <= 0 {
		return
	}
	due := w.began.Add(time.Duration(now.Seconds() / w.hub.speed * float64(time.Second)))
	if ahead := time.Until(due); ahead > 5*time.Millisecond {
		time.Sleep(min(ahead, 100*time.Millisecond))
	}
}

// sample collects what is true now, and what boards have said.
func (w *watcher) sample(t *sim.Tick) sample {
	s := sample{T: finite(t.Now.Seconds())}
	for i := range t.States {
		s.Heights = append(s.Heights, finite(t.States[i].Height()))
	}
	if len(t.States) > 0 {
		s.Speed = finite(sim.Speed.Of(&t.States[0]))
	}
	for ; w.seen < len(w.rec.Reports); w.seen++ {
		if r := &w.rec.Reports[w.seen]; r.Bay >= 0 && r.Bay < len(w.told) {
			x := &w.told[r.Bay]
			x.Phase, x.Height, x.Reports = harness.Printable(r.PhaseText()), finite(r.Height), x.Reports+1
		}
	}
	if n := len(w.rec.Late); n > 0 {
		s.Late = finite(w.rec.Late[n-1].Seconds() * 1e3)
	}
	for _, c := range w.rec.Changes {
		if c.Bay >= 0 && c.Bay < len(w.told) {
			x := &w.told[c.Bay]
			x.Bad, x.Lost, x.Boots = c.Bad+c.BoardBad, c.Lost+c.BoardLost, c.Boots
		}
	}
	s.Told = append(s.Told, w.told...)
	return s
}

// needs tells the windows whose ends are known by now, with events that aren't in the record yet.
func (w *watcher) needs(events []sim.Event) {
	known := append(append([]sim.Event(nil), w.rec.Events...), events...)
	for i := range w.rec.Plan.Expect {
		e := &w.rec.Plan.Expect[i]
		never := e.Kind == harness.Never && e.Quantity == sim.NoQuantity
		if w.needed[i] || e.Kind != harness.Fires && !never {
			continue
		}
		n := need{Output: w.output(e.Output.Bay, e.Output.Channel), Never: never, To: 1e6, Text: harness.Printable(e.Text)}
		ok := n.Output >= 0
		if !never || e.HasFrom {
			at, found := e.From.In(known)
			n.From, ok = finite(at.Seconds()), ok && found
		}
		if !never || e.HasTo {
			at, found := e.To.In(known)
			if n.To = finite(at.Seconds()); !found && never { // it has begun, and ends at an event to come
				n.To = 1e6
				found = true
			}
			ok = ok && found
		}
		if ok {
			w.needed[i] = n.To < 1e6 || never && !e.HasTo
			w.hub.tell(map[string]any{"need": n, "id": i})
		}
	}
}

// finding is one answer of a verdict.
type finding struct{ Answer, Text, Why string }

// Verdict tells the verdict of a scenario.
func (h *Hub) Verdict(v *harness.Verdict) {
	var list []finding
	for i := range v.Findings {
		f := &v.Findings[i]
		x := finding{Answer: f.Answer.String(), Text: harness.Printable(f.Text)}
		if f.Answer != harness.Pass {
			x.Why = harness.Printable(f.Reason)
		}
		list = append(list, x)
	}
	h.tell(map[string]any{"verdict": map[string]any{"Name": harness.Printable(v.Name), "Answer": v.Answer.String(), "Findings": list}})
}
