package flight

import (
	"slices"

	"drystage/sim"
)

// actionKind is a kind of appointment.
type actionKind uint8

const (
	doLaunch           actionKind = iota // the launch controller fires the lowest igniter
	doIgniterPulse                       // an igniter has had its pulse
	doIgnite                             // a motor lights
	doBurnout                            // a motor's curve ends
	doMotorFailure                       // a motor is killed by a fault
	doDragSeparation                     // stages part by drag
	doSeparation                         // stages part by charge
	doSeparationCharge                   // a separation charge has had its pulse
	doDeploymentCharge                   // a device's charge has had its pulse
	doLineStretch                        // a device's line is stretched
	doUpdateForces                       // a device is fully open
	doFault                              // a fault makes something happen by itself
)

// action is something that will happen at a known time.
type action struct {
	at     sim.Time
	kind   actionKind
	stage  int
	device int // or the motor of the stage; for dying and failing, the index of the fault
}

// schedule writes an appointment into the diary behind those of the same time.
func (f *Flight) schedule(a action) {
	i := len(f.queue)
	for i > 0 && f.queue[i-1].at > a.at {
		i--
	}
	f.queue = slices.Insert(f.queue, i, a)
	f.nextAction = f.queue[0].at
	f.horizon = min(f.horizon, f.nextAction)
}

// cancel takes out appointments of a kind that are still to come.
func (f *Flight) cancel(what actionKind, stage, device int) {
	f.queue = slices.DeleteFunc(f.queue, func(a action) bool {
		return a.kind == what && a.stage == stage && a.device == device && a.at > f.now
	})
	f.nextAction = sim.Never
	if len(f.queue) > 0 {
		f.nextAction = f.queue[0].at
	}
}

// isScheduled says if an appointment of a kind is still to come.
func (f *Flight) isScheduled(what actionKind, stage int) bool {
	return slices.ContainsFunc(f.queue, func(a action) bool { return a.kind == what && a.stage == stage })
}

// runDue keeps the first appointment.
func (f *Flight) runDue() {
	a := f.queue[0]
	f.queue = slices.Delete(f.queue, 0, 1)
	f.nextAction = sim.Never
	if len(f.queue) > 0 {
		f.nextAction = f.queue[0].at
	}
	switch a.kind {
	case doLaunch:
		f.emit(sim.EventLaunch, f.now)
		f.fireIgniter(a.stage)
	case doIgniterPulse:
		f.fireIgniter(a.stage)
	case doIgnite:
		f.ignite(a.stage, a.device)
	case doBurnout, doMotorFailure:
		f.endBurn(a)
	case doDragSeparation:
		if !f.separationStuck(a) {
			f.separateByDrag(a.stage)
		}
	case doSeparation:
		if !f.separationStuck(a) {
			f.separate(a.stage)
		}
	case doSeparationCharge:
		f.fireSeparationCharge(a.stage)
	case doDeploymentCharge:
		f.fireDeploymentCharge(a.stage, a.device)
	case doLineStretch:
		f.lineStretch(a.stage, a.device)
	case doUpdateForces:
		f.updateForces(a.stage)
	case doFault:
		f.applyFault(a.device)
	}
}

// updateForces makes the body of a stage take stock again.
func (f *Flight) updateForces(stage int) {
	b := f.bodyOf(stage)
	f.endStepNow(b)
	f.computeStep(b)
}
