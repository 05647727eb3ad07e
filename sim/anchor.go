package sim

import "strings"

// Anchor is an instant told by an event: the event's time plus Offset. The empty event is the start
// of the run.
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

// In gives the anchor's time among events that have happened; ok is false while its event has not.
// Of several events with the name, the first counts.
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

// The names of the whole flight's events. A stage's are written STAGE.EVENT with the words below
// them, and STAGE.DEVICE when a recovery device opens (line stretch).
const (
	EventStart      = "start"      // the run begins, the rocket on the pad
	EventLaunch     = "launch"     // the launch controller fires the lowest motor's igniter
	EventLiftoff    = "liftoff"    // the rocket moves
	EventRailExit   = "rail_exit"  // it is free of the rail
	EventSeparation = "separation" // the first parting of two stages
	EventMaxQ       = "max_q"      // greatest dynamic pressure; known afterwards
	EventApogee     = "apogee"     // of the body with the nose
	EventLanding    = "landing"    // the last body touches the ground

	StageIgnition   = "ignition"
	StageBurnout    = "burnout"
	StageSeparation = "separation" // it lets go of the stage above
	StageApogee     = "apogee"
	StageLanding    = "landing"
)

// Crossing is an event of our own making: a quantity of a stage's body passes a value.
type Crossing struct {
	Name     string // the event's name, such as "sustainer height falling through 150 m"
	Stage    int
	Quantity Quantity
	Falling  bool
	Value    float64 // SI
}

// Mark is an event of our own making: something that a board or the operator does. Only what a Setup
// marks becomes an event.
type Mark struct {
	Name    string // the event's name, such as "output sustainer.ignite" or "command arm"
	Bay     int    // index into Setup.Bays, of an output
	Channel int    // of an output that goes on; 0: a command
	Command Commands
}
