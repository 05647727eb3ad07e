package sim

import "strings"

// Anchor is an instant relative to an event: the event's time plus Offset. The empty event is the start of the
// run.
type Anchor struct {
	Event  string
	Offset Time
}

// String writes the anchor as files do, as "apogee - 0.5 s".
func (a Anchor) String() string {
	event := a.Event
	if event == "" {
		event = EventStart
	}
	switch {
	case a.Offset > 0:
		return event + " + " + a.Offset.Exact()
	case a.Offset < 0:
		return event + " - " + strings.TrimPrefix(a.Offset.Exact(), "-")
	}
	return event
}

// In gives the anchor's time if its event is among the given ones; else ok is false. Of several events with the
// name, the first counts.
func (a Anchor) In(events []Event) (t Time, ok bool) {
	if a.Event == "" || a.Event == EventStart {
		return a.Offset, true
	}
	for _, e := range events {
		if e.Name == a.Event {
			return e.At + a.Offset, true
		}
	}
	return 0, false
}

// The names of the events of the whole flight, then those of a stage, written STAGE.EVENT. STAGE.DEVICE is the line
// stretch of a recovery device.
const (
	EventStart      = "start"      // the run begins, the rocket on the pad
	EventLaunch     = "launch"     // the launch controller fires the lowest motor's igniter
	EventLiftoff    = "liftoff"    // the rocket moves
	EventRailExit   = "rail_exit"  // it leaves the rail
	EventSeparation = "separation" // the first separation of two stages
	EventMaxQ       = "max_q"      // greatest dynamic pressure; known afterwards
	EventApogee     = "apogee"     // of the body with the nose
	EventLanding    = "landing"    // the last body touches the ground

	StageIgnition   = "ignition"
	StageBurnout    = "burnout"
	StageSeparation = "separation" // it separates from the stage above
	StageApogee     = "apogee"
	StageLanding    = "landing"
)

// Crossing is an event that a plan defines: a quantity of a stage's body passes a value.
type Crossing struct {
	Name     string // the event's name, such as "sustainer height falling through 150 m"
	Stage    int
	Quantity Quantity
	Falling  bool
	Value    float64 // SI
}

// Mark is an event that a plan defines: something that a board or the operator does. Without a mark in the Setup it
// is no event.
type Mark struct {
	Name    string // the event's name, such as "output sustainer.ignite" or "command arm"
	Bay     int    // index into Setup.Bays, of an output
	Channel int    // of an output that goes on; 0: a command
	Command Commands
}
