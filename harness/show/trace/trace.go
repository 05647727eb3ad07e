package trace

import (
	"math"

	"drystage/harness"
	"drystage/sim"
)

// Trace is one number of a part's samples against time, around those that faults touched: for pictures.
type Trace struct {
	Bay    int
	Part   sim.Part
	Axis   string // that faults changed most; empty of a part that has one number
	Unit   string
	Faults uint64 // bit i: fault i touched some
	First  sim.Time
	Last   sim.Time // of the samples that were touched
	// How many samples were touched, and of those taken away, sent twice, and without a fix.
	Hit, Dropped, Twice, NoFix int

	At               []sim.Time
	True, Read, Sent []float64 // in Unit; NaN where nobody knows, and where nothing was sent
}

// Traces gives a trace for each part of a board that faults touched, in order of boards and parts.
func Traces(rec *harness.Record) (ts []Trace) {
	var touched [256]bool
	for bay := range rec.Plan.Setup.Bays {
		clear(touched[:])
		for i := range rec.Injected {
			if x := &rec.Injected[i]; x.Bay == bay {
				touched[x.Part] = true
			}
		}
		for p := sim.PartAccel; p <= sim.LastPart; p++ {
			if !touched[p] {
				continue
			}
			if t, ok := trace(rec, bay, p); ok {
				ts = append(ts, t)
			}
		}
	}
	return ts
}

func trace(rec *harness.Record, bay int, p sim.Part) (t Trace, ok bool) {
	t = Trace{Bay: bay, Part: p}
	list := Samples(rec, bay, p)
	var hit []int
	for i := range list {
		if list[i].Faults != 0 {
			hit = append(hit, i)
			t.count(&list[i])
		}
	}
	if len(hit) == 0 {
		return t, false
	}
	t.First, t.Last = list[hit[0]].At, list[hit[len(hit)-1]].At
	axis := mostChanged(list, hit, t.onlyFault(rec))
	if axes(p) > 1 {
		t.Axis = axisName(p, axis)
	}
	symbol, per := unit(p, axis)
	t.Unit = symbol
	around := max(sim.Second/2, (t.Last-t.First)/4)
	for i := range list {
		s := &list[i]
		if s.At < t.First-around || s.At > t.Last+around {
			continue
		}
		sent := component(s.Sent, axis) * per
		if s.Dropped {
			sent = math.NaN()
		}
		t.At = append(t.At, s.At)
		t.True = append(t.True, component(s.True, axis)*per)
		t.Read = append(t.Read, component(s.Read, axis)*per)
		t.Sent = append(t.Sent, sent)
	}
	return t, true
}

func (t *Trace) count(s *Sample) {
	t.Faults |= s.Faults
	t.Hit++
	switch {
	case s.Dropped:
		t.Dropped++
	case s.Twice:
		t.Twice++
	case t.Part == sim.PartGNSS && s.Fix == sim.NoFix:
		t.NoFix++
	}
}

// onlyFault is the fault that changed the samples if there is just one, else one that names no axis.
func (t *Trace) onlyFault(rec *harness.Record) *sim.Fault {
	for i := range rec.Plan.Setup.Faults {
		if t.Faults == 1<<uint(i) {
			return &rec.Plan.Setup.Faults[i]
		}
	}
	return &sim.Fault{Part: t.Part}
}
