package page

import (
	"drystage/harness"
	"drystage/sim"
)

// boardReports is what one board reported of the flight: its phases, in its own words.
type boardReports struct {
	Role   string
	Phases []phase
	More   int // changes that are left out
}

type phase struct {
	From, Until sim.Time
	Name        string
	Height      float64 // m, as the board had it when the phase began
}

func reported(rec *harness.Record) []boardReports {
	list := make([]boardReports, len(rec.Plan.Setup.Bays))
	end := rec.Times[rec.Ticks()-1]
	for i := range list {
		list[i].Role = rec.Plan.Setup.Bays[i].Name
	}
	for i := range rec.Reports {
		r := &rec.Reports[i]
		if r.Bay < 0 || r.Bay >= len(list) {
			continue
		}
		s, name := &list[r.Bay], r.PhaseText()
		n := len(s.Phases)
		switch {
		case n > 0 && s.Phases[n-1].Name == name:
		case n == 60:
			s.More++
		default:
			if n > 0 {
				s.Phases[n-1].Until = r.At
			}
			s.Phases = append(s.Phases, phase{r.At, end, name, r.Height})
		}
	}
	return list
}
