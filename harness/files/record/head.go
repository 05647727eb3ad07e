package record

import (
	"fmt"

	"drystage/harness"
	"drystage/sim"
)

const (
	mostTicks    = 20 << 20
	mostMemory   = 4 << 30 // bytes of ticks, once read
	mostInjected = 16 << 20
	mostReports  = 4 << 20
)

// head is all of a record but its ticks, reports and injections.
type head struct {
	Plan          harness.Plan
	Made          harness.Maker
	Events        []sim.Event
	Outputs       []harness.Edge
	Reports       int
	Logs          []harness.Log
	Health        []harness.Health
	Cause         string
	Ticks         int
	Late          bool
	Pace          harness.Pace           `json:",omitzero"`
	Readings      []harness.ClockReading `json:",omitempty"`
	Clocks        []harness.BoardClock   `json:",omitempty"`
	Injected      int
	Conflicts     []harness.Conflict   `json:",omitempty"`
	Unmeasured    []harness.Unmeasured `json:",omitempty"`
	NMEA          []harness.NMEASet    `json:",omitempty"`
	FlightOutputs []sim.Output
	Warnings      []sim.Warning `json:",omitempty"`
	Changes       []harness.HealthChange
}

// check refuses a head whose numbers don't fit together, since ticks are read by them.
func (h *head) check() error {
	s := &h.Plan.Setup
	stages, bays := len(s.Vehicle.Stages), len(s.Bays)
	switch {
	case stages < 1 || stages > sim.MaxStages || bays < 1 || bays > 64:
		return fmt.Errorf("found %d stages and %d boards, wanted 1 to %d and 1 to 64", stages, bays, sim.MaxStages)
	case h.Ticks < 0 || h.Ticks > mostTicks:
		return fmt.Errorf("found %d ticks, wanted at most %d", h.Ticks, mostTicks)
	case int64(h.Ticks)*h.tick() > mostMemory:
		return fmt.Errorf("found %d ticks of %d bytes, wanted at most %d bytes; end the scenario earlier", h.Ticks, h.tick(), int64(mostMemory))
	case h.Injected < 0 || h.Injected > mostInjected:
		return fmt.Errorf("found %d injections, wanted at most %d", h.Injected, mostInjected)
	case h.Reports < 0 || h.Reports > mostReports:
		return fmt.Errorf("found %d reports, wanted at most %d", h.Reports, mostReports)
	case len(s.Faults) > sim.MaxFaults:
		return fmt.Errorf("found %d faults, wanted at most %d", len(s.Faults), sim.MaxFaults)
	}
	for _, b := range s.Bays {
		if b.Stage < 0 || b.Stage >= stages {
			return fmt.Errorf("found a board on stage %d of %d", b.Stage, stages)
		}
	}
	return nil
}

// tick is the number of bytes that one tick takes in memory, about.
func (h *head) tick() int64 {
	s := &h.Plan.Setup
	return 8 * int64(tickColumns+len(s.Vehicle.Stages)*stateColumns+len(s.Bays)*frameColumns)
}

// headOf gives the head of a record.
func headOf(rec *harness.Record) head {
	return head{
		rec.Plan, rec.Made, rec.Events, rec.Outputs, len(rec.Reports), rec.Logs, rec.Health, rec.Cause,
		rec.Ticks(), len(rec.Late) > 0, rec.Pace, rec.Readings, rec.Clocks, len(rec.Injected), rec.Conflicts, rec.Unmeasured, rec.NMEA, rec.FlightOutputs, rec.Warnings, rec.Changes,
	}
}

// record gives the record of a head, which lacks its ticks, reports and injections.
func (h *head) record() harness.Record {
	return harness.Record{
		Plan: h.Plan, Made: h.Made, Events: h.Events, Outputs: h.Outputs, Logs: h.Logs,
		Health: h.Health, Cause: h.Cause, Pace: h.Pace, Readings: h.Readings, Clocks: h.Clocks,
		Conflicts: h.Conflicts, Unmeasured: h.Unmeasured, NMEA: h.NMEA, FlightOutputs: h.FlightOutputs, Warnings: h.Warnings, Changes: h.Changes,
	}
}
