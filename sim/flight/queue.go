package flight

import (
	"slices"

	"drystage/sim"
)

// actionKind is a kind of action.
type actionKind uint8

const (
	doLaunch           actionKind = iota // the launch controller fires the lowest igniter
	doIgniterPulse                       // an igniter has had its pulse
	doIgnite                             // a motor lights
	doBurnout                            // a motor's curve ends
	doMotorFailure                       // a fault stops a motor
	doDragSeparation                     // stages separate by drag
	doSeparation                         // stages separate by charge
	doSeparationCharge                   // a separation charge has had its pulse
	doDeploymentCharge                   // a device's charge has had its pulse
	doLineStretch                        // a device's line is stretched
	doUpdateForces                       // a device is fully open, or another force has ended
	doFault                              // a fault that is an event of its own happens
)

// action is an entry of the event queue: something to do at a known time.
type action struct {
	at     sim.Time
	kind   actionKind
	stage  int
	device int // or the motor of the stage; for doMotorFailure and doFault, the index of the fault
}

// schedule adds an action to the queue, after those of the same time.
func (f *Flight) schedule(a action) {
	i := len(f.queue)
	for i > 0 && f.queue[i-1].at > a.at {
		i--
	}
	f.queue = slices.Insert(f.queue, i, a)
	f.nextAction = f.queue[0].at
	f.horizon = min(f.horizon, f.nextAction)
}

// cancel removes future actions of a kind.
func (f *Flight) cancel(what actionKind, stage, device int) {
	f.queue = slices.DeleteFunc(f.queue, func(a action) bool {
		return a.kind == what && a.stage == stage && a.device == device && a.at > f.now
	})
	f.nextAction = sim.Never
	if len(f.queue) > 0 {
		f.nextAction = f.queue[0].at
	}
}

// isScheduled says that an action of a kind is in the queue.
func (f *Flight) isScheduled(what actionKind, stage int) bool {
	return slices.ContainsFunc(f.queue, func(a action) bool { return a.kind == what && a.stage == stage })
}

// runDue runs the first action of the queue.
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

// updateForces restarts the step of a stage's body, since its forces have changed.
func (f *Flight) updateForces(stage int) {
	b := f.bodyOf(stage)
	f.endStepNow(b)
	f.computeStep(b)
}
