package run

import (
	"drystage/harness"
	"drystage/harness/logs"
	"drystage/harness/logs/examine"
	"drystage/sim"
)

// Played reads the log that a plan plays and gives what makes its source. It gives the plan's bay the sensors that
// the log has.
func Played(p *harness.Plan) (func(*sim.Setup) sim.Source, error) {
	l, err := logs.OpenFile(p.Log.File, p.Log.Mapping, p.Setup.Bays[0].Name, logs.FileOptions{})
	if err != nil {
		return nil, err
	}
	for _, c := range p.Setup.Commands {
		if c.At.Event != "" && c.At.Event != sim.EventStart {
			return nil, harness.Errorf("%s: a command at %s: on a log, give commands at start + a time", p.File, c.At.Event)
		}
		l.Commands = append(l.Commands, logs.Command{At: c.At.Offset, What: c.What})
	}
	l.SortCommands()
	p.Setup.Bays[0].Sensors = l.Sensors()
	var events []sim.Event
	if r, err := examine.Examine(l, examine.Options{}); err == nil {
		events = r.Events(&p.Setup.Vehicle, p.Setup.Bays[0].Stage)
	}
	return func(s *sim.Setup) sim.Source {
		src, err := logs.NewSource(l, len(s.Vehicle.Stages), logs.FillNone, events)
		if err != nil { // OpenFile gives no log without a sample
			panic(err)
		}
		return src
	}, nil
}
