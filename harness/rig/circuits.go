package rig

import (
	"context"
	"time"

	"drystage/harness"
	"drystage/harness/board/link"
	"drystage/sim"
)

// setCircuits opens and shorts the circuits at a board's outputs as they are in the flight, for those that have a drive.
// In lockstep the run waits until the relays have moved, so that the board measures them at this tick.
func (w *Board) setCircuits(ctx context.Context, c sim.Circuits) error {
	var longest sim.Time
	for _, wire := range w.mount.Bay.Wires {
		bit := uint16(1) << (wire.Channel - 1)
		for _, to := range [...]struct {
			kind harness.DriveKind
			on   bool
		}{{harness.DriveWire, c.Open&bit == 0}, {harness.DriveShort, c.Short&bit != 0}} {
			delay, err := w.rig.set(func(d *drive) bool {
				return d.Does == to.kind && d.Role == w.mount.Bay.Name && d.Output == wire.Name
			}, to.on)
			if err != nil {
				return err
			}
			longest = max(longest, delay)
		}
	}
	if longest == 0 || w.mount.RunTime != nil || w.rig.Spec.Simulated {
		return nil
	}
	return link.Wait(ctx, time.Duration(longest))
}
