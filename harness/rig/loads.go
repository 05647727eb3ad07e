package rig

import (
	"errors"
	"fmt"
	"math"

	"drystage/harness"
	"drystage/harness/board/contract"
)

// ErrRefused says that a run does not begin, for safety.
var ErrRefused = errors.New("refused for safety")

// What looks like an electric match, in ohm. Common practice, no source.
const (
	matchLeast = 0.5
	matchMost  = 3.0
)

// CheckLoads refuses a plan with outputs whose dummy load the rig does not declare. It names all of them.
func CheckLoads(spec *harness.Rig, plan *harness.Plan) error {
	var errs []error
	for i, b := range plan.Boards {
		on := spec.Board(b.Role)
		if on == nil {
			errs = append(errs, fmt.Errorf("%s: no board %s on this rig; declare it with its outputs and loads", spec.File, b.Role))
			continue
		}
		for _, w := range plan.Setup.Bays[i].Wires {
			switch o := on.Output(w.Name); {
			case o == nil:
				errs = append(errs, fmt.Errorf("%s: output %s.%s has no dummy load declared; add it to the board's outputs", on.Place, b.Role, w.Name))
			case o.Load.Kind == "":
				errs = append(errs, fmt.Errorf("%s: output %s.%s has no dummy load declared; add `load: {kind: resistor, resistance: 10 ohm}` as it really is", o.Place, b.Role, w.Name))
			}
		}
	}
	return refused(errs)
}

func refused(errs []error) error {
	if len(errs) == 0 {
		return nil
	}
	return fmt.Errorf("rig: %w: %w", ErrRefused, errors.Join(errs...))
}

// Reading is what a board measured at an output; Ohm is +Inf for an open circuit.
type Reading struct {
	Output string
	Ohm    float64
}

// ReadingOf converts the contract's resistance to a reading.
func ReadingOf(output string, milliohm uint32) Reading {
	if milliohm == contract.OpenCircuit {
		return Reading{output, math.Inf(1)}
	}
	return Reading{output, float64(milliohm) / 1000}
}

// CheckReadings refuses readings that look like an electric match, and readings that do not fit the declared load.
func CheckReadings(b *harness.RigBoard, readings []Reading) error {
	var errs []error
	for _, r := range readings {
		o := b.Output(r.Output)
		if o == nil {
			errs = append(errs, fmt.Errorf("output %s.%s: the board measures %s, and the rig declares nothing there", b.Role, r.Output, ohms(r.Ohm)))
			continue
		}
		if why := mismatch(o.Load, r.Ohm); why != "" {
			errs = append(errs, fmt.Errorf("%s: output %s.%s: the board measures %s, %s; take away what is connected, with the power off, before anything else", o.Place, b.Role, r.Output, ohms(r.Ohm), why))
		}
	}
	return refused(errs)
}

// mismatch says why a resistance does not fit a load; empty if it does.
func mismatch(l harness.Load, ohm float64) string {
	switch {
	case !(ohm >= 0):
		return "which is no resistance"
	case ohm >= matchLeast && ohm <= matchMost:
		return "which looks like an electric match (0.5 to 3 ohm)"
	case l.Kind == "open":
		if ohm < openResistance {
			return "and the rig declares it open"
		}
	case ohm < l.Ohm*(1-l.Tolerance) || ohm > l.Ohm*(1+l.Tolerance):
		return "and the rig declares a " + LoadText(l)
	}
	return ""
}

// openResistance is the resistance, in ohm, from which an output counts as open. Measuring currents leak through
// about a megohm of board. Common practice, no source.
const openResistance = 100e3

func ohms(r float64) string {
	if math.IsInf(r, 1) {
		return "an open circuit"
	}
	return fmt.Sprintf("%.4g ohm", r)
}
