package flight

import (
	"slices"

	"drystage/sim"
)

// happening is a kind of appointment.
type happening uint8

const (
	launching  happening = iota // the launch controller fires the lowest igniter
	fired                       // an igniter has had its pulse
	lighting                    // a motor lights
	burningOut                  // a motor's curve ends
	dying                       // a motor is killed by a fault
	sliding                     // stages part by drag
	parting                     // stages part by charge
	charging                    // a separation charge has had its pulse
	bursting                    // a device's charge has had its pulse
	stretching                  // a device's line is stretched
	filling                     // a device is fully open
	failing                     // a fault makes something happen by itself
)

// appointment is something that will happen at a known time.
type appointment struct {
	at     sim.Time
	what   happening
	stage  int
	device int // or the motor of the stage; for dying and failing, the index of the fault
}

// enter writes an appointment into the diary behind those of the same time.
func (f *Flight) enter(a appointment) {
	i := len(f.diary)
	for i > 0 && f.diary[i-1].at > a.at {
		i--
	}
	f.diary = slices.Insert(f.diary, i, a)
	f.due = f.diary[0].at
	f.ahead = min(f.ahead, f.due)
}

// strike takes out appointments of a kind that are still to come.
func (f *Flight) strike(what happening, stage, device int) {
	f.diary = slices.DeleteFunc(f.diary, func(a appointment) bool {
		return a.what == what && a.stage == stage && a.device == device && a.at > f.now
	})
	f.due = sim.Never
	if len(f.diary) > 0 {
		f.due = f.diary[0].at
	}
}

// awaits says if an appointment of a kind is still to come.
func (f *Flight) awaits(what happening, stage int) bool {
	return slices.ContainsFunc(f.diary, func(a appointment) bool { return a.what == what && a.stage == stage })
}

// keep keeps the first appointment.
func (f *Flight) keep() {
	a := f.diary[0]
	f.diary = slices.Delete(f.diary, 0, 1)
	f.due = sim.Never
	if len(f.diary) > 0 {
		f.due = f.diary[0].at
	}
	switch a.what {
	case launching:
		f.emit(sim.EventLaunch, f.now)
		f.fire(a.stage)
	case fired:
		f.fire(a.stage)
	case lighting:
		f.light(a.stage, a.device)
	case burningOut, dying:
		f.burnOut(a)
	case sliding:
		if !f.stuck(a) {
			f.slide(a.stage)
		}
	case parting:
		if !f.stuck(a) {
			f.part(a.stage)
		}
	case charging:
		f.blow(a.stage)
	case bursting:
		f.burst(a.stage, a.device)
	case stretching:
		f.stretch(a.stage, a.device)
	case filling:
		f.refresh(a.stage)
	case failing:
		f.fail(a.device)
	}
}

// refresh makes the body of a stage take stock again.
func (f *Flight) refresh(stage int) {
	b := f.bodyOf(stage)
	f.cut(b)
	f.plan(b)
}
