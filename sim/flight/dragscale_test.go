package flight

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"drystage/sim"
)

// A factor on the drag is a factor on Cd times area, however the drag is found; none is 1, to the bit.
func TestDragScale(t *testing.T) {
	rows := []struct {
		drag   sim.Drag
		reason string
	}{
		{sim.Drag{Cd: 0.6}, "one coefficient"},
		{sim.Drag{Points: []sim.DragPoint{{Mach: 0, Cd: 0.5}, {Mach: 0.9, Cd: 0.6, PowerOn: 0.4}}}, "a table"},
		{sim.Drag{Built: true, Roughness: 2e-5}, "built up from the shape"},
	}
	for _, row := range rows {
		area := func(scale float64, stacked bool) float64 {
			st := sim.Stage{Length: 1, Diameter: 0.1, Nose: sim.Nose{Length: 0.3, Diameter: 0.1}, Drag: row.drag, Stacked: row.drag}
			stages := []sim.Stage{st, st}
			top := 1
			if stacked {
				top = 0
				stages[1].Stacked.Scale = scale
			} else {
				stages[1].Drag.Scale = scale
			}
			s := newShape(stages, top, 1)
			return s.dragArea(&flow{airData: airData{mach: 0.4, speed: 136, density: 1.2}, temperature: 288}, s.segmentAt(0.4))
		}
		for _, stacked := range []bool{false, true} {
			plain := area(0, stacked)
			assert.Positive(t, plain, row.reason)
			assert.Equal(t, plain, area(1, stacked), row.reason)
			assert.InEpsilon(t, 1.25*plain, area(1.25, stacked), 1e-15, row.reason)
		}
	}
}
