package record

import (
	"drystage/harness"
	"drystage/sim"
)

// ticks turns the ticks of a record into columns and back.
type ticks struct {
	first, next *grid // of the first stage or board, and of another one
	state       []trait
	frames      [][]trait // by board
	orders      [][mostColumns]int
}

func newTicks(s *sim.Setup, grids *[2]grid) *ticks {
	t := &ticks{first: &grids[0], next: &grids[1], state: stateTraits()}
	for i := range s.Bays {
		t.frames = append(t.frames, frameTraits(&s.Bays[i].Sensors))
	}
	for range len(s.Vehicle.Stages) + len(s.Bays) + 1 {
		t.orders = append(t.orders, hints())
	}
	return t
}

// The columns of a tick itself.
const (
	tickTime = iota
	tickActive
	tickLate
	tickColumns
)

func tickTraits(late bool) []trait {
	if late {
		return []trait{{whole: true}, {whole: true}, {whole: true}}
	}
	return []trait{{whole: true}, {whole: true}}
}

// grids gives the grid of a stage or board, and the first one's, which it is held against.
func (t *ticks) grids(i int) (g, first *grid) {
	if i == 0 {
		return t.first, nil
	}
	return t.next, t.first
}

// pack appends n ticks of a record, from one on.
func (t *ticks) pack(e *encoder, rec *harness.Record, from, n int) {
	stages, bays := len(rec.Plan.Setup.Vehicle.Stages), len(rec.Plan.Setup.Bays)
	late := len(rec.Late) > 0
	for i := range n {
		t.first[tickTime][i], t.first[tickActive][i] = uint64(rec.Times[from+i]), rec.Active[from+i]
		if late {
			t.first[tickLate][i] = uint64(rec.Late[from+i])
		}
	}
	e.columns(t.first, nil, n, tickTraits(late), t.orders[stages+bays][:])
	for s := range stages {
		g, first := t.grids(s)
		for i := range n {
			putState(g, i, &rec.States[(from+i)*stages+s])
		}
		e.columns(g, first, n, t.state, t.orders[s][:])
	}
	for b := range bays {
		g, first := t.grids(b)
		for i := range n {
			putFrame(g, i, &rec.Frames[(from+i)*bays+b], rec.Times[from+i])
		}
		for i := 0; i < n && len(t.frames[b]) > magX; i++ {
			putVec(g, magX, i, &rec.Frames[(from+i)*bays+b].Mag)
		}
		e.columns(g, first, n, t.frames[b], t.orders[stages+b][:])
	}
}

// unpack fills in n ticks of a record, from one on.
func (t *ticks) unpack(d *decoder, rec *harness.Record, from, n int) {
	stages, bays := len(rec.Plan.Setup.Vehicle.Stages), len(rec.Plan.Setup.Bays)
	late := len(rec.Late) > 0
	d.columns(t.first, nil, n, tickTraits(late))
	for i := range n {
		rec.Times[from+i], rec.Active[from+i] = sim.Time(t.first[tickTime][i]), t.first[tickActive][i]
		if late {
			rec.Late[from+i] = sim.Time(t.first[tickLate][i])
		}
	}
	for s := range stages {
		g, first := t.grids(s)
		d.columns(g, first, n, t.state)
		for i := range n {
			rec.States[(from+i)*stages+s] = state(g, i)
		}
	}
	for b := range bays {
		g, first := t.grids(b)
		d.columns(g, first, n, t.frames[b])
		for i := range n {
			rec.Frames[(from+i)*bays+b] = frame(g, i, rec.Times[from+i])
		}
		for i := 0; i < n && len(t.frames[b]) > magX; i++ {
			rec.Frames[(from+i)*bays+b].Mag = vec(g, magX, i)
		}
	}
}
