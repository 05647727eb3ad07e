package main

import (
	"encoding/csv"
	"io"
	"strconv"
	"strings"

	"drystage/sim"
)

// truthTable writes the true states and stability as a table (RFC 4180), with a row for each stage at each time.
type truthTable struct {
	w     *csv.Writer
	ideal *idealFlight
	seen  int // events that stand in a row
	row   []string
	wrong error
}

// truthColumns are the numbers of a sim.State, in the order of its fields.
var truthColumns = []struct {
	name string
	of   func(*sim.State) float64
}{
	{"position_east_m", func(s *sim.State) float64 { return s.Position.X }},
	{"position_north_m", func(s *sim.State) float64 { return s.Position.Y }},
	{"position_up_m", func(s *sim.State) float64 { return s.Position.Z }},
	{"velocity_east_m_s", func(s *sim.State) float64 { return s.Velocity.X }},
	{"velocity_north_m_s", func(s *sim.State) float64 { return s.Velocity.Y }},
	{"velocity_up_m_s", func(s *sim.State) float64 { return s.Velocity.Z }},
	{"attitude_w_1", func(s *sim.State) float64 { return s.Attitude.Real }},
	{"attitude_x_1", func(s *sim.State) float64 { return s.Attitude.Imag }},
	{"attitude_y_1", func(s *sim.State) float64 { return s.Attitude.Jmag }},
	{"attitude_z_1", func(s *sim.State) float64 { return s.Attitude.Kmag }},
	{"rate_x_rad_s", func(s *sim.State) float64 { return s.Rates.X }},
	{"rate_y_rad_s", func(s *sim.State) float64 { return s.Rates.Y }},
	{"rate_z_rad_s", func(s *sim.State) float64 { return s.Rates.Z }},
	{"specific_force_x_m_s2", func(s *sim.State) float64 { return s.Force.X }},
	{"specific_force_y_m_s2", func(s *sim.State) float64 { return s.Force.Y }},
	{"specific_force_z_m_s2", func(s *sim.State) float64 { return s.Force.Z }},
	{"angular_acceleration_x_rad_s2", func(s *sim.State) float64 { return s.Angular.X }},
	{"angular_acceleration_y_rad_s2", func(s *sim.State) float64 { return s.Angular.Y }},
	{"angular_acceleration_z_rad_s2", func(s *sim.State) float64 { return s.Angular.Z }},
	{"mass_kg", func(s *sim.State) float64 { return s.Mass }},
	{"cg_aft_of_front_m", func(s *sim.State) float64 { return s.CG }},
	{"stage_aft_of_front_m", func(s *sim.State) float64 { return s.Front }},
	{"air_pressure_Pa", func(s *sim.State) float64 { return s.Pressure }},
	{"air_temperature_K", func(s *sim.State) float64 { return s.Ambient }},
	{"airspeed_m_s", func(s *sim.State) float64 { return s.Airspeed }},
	{"mach_1", func(s *sim.State) float64 { return s.Mach }},
	{"dynamic_pressure_Pa", func(s *sim.State) float64 { return s.Dynamic }},
	{"angle_of_attack_rad", func(s *sim.State) float64 { return s.Alpha() }},
	{"tilt_rad", func(s *sim.State) float64 { return s.Tilt() }},
	{"thrust_N", func(s *sim.State) float64 { return s.Thrust }},
	{"landed", func(s *sim.State) float64 { return bit(s.Landed) }},
	{"on_pad", func(s *sim.State) float64 { return bit(s.OnPad) }},
}

func bit(yes bool) float64 {
	if yes {
		return 1
	}
	return 0
}

// newTruthTable begins a table. Times count from the launch; axes are those of sim.Vehicle.
func newTruthTable(w io.Writer, o *idealFlight) *truthTable {
	t := &truthTable{w: csv.NewWriter(w), ideal: o}
	t.w.UseCRLF = true
	for t.seen < len(o.events) && o.events[t.seen].At < o.set.Launch {
		t.seen++
	}
	t.row = []string{"time_s", "stage", "body", "events"}
	for _, c := range truthColumns {
		t.row = append(t.row, c.name)
	}
	t.row = append(t.row, "static_margin_calibres")
	t.wrong = t.w.Write(t.row)
	return t
}

// add writes the rows of one time. The first row has the events since the time before.
func (t *truthTable) add(now sim.Time, states []sim.State) {
	if t.wrong != nil {
		return
	}
	var names []string
	set, events := t.ideal.set, t.ideal.events
	for ; t.seen < len(events) && events[t.seen].At <= now; t.seen++ {
		names = append(names, events[t.seen].Name)
	}
	happened := strings.Join(names, "; ")
	for i := range states {
		t.row = append(t.row[:0], strconv.FormatFloat((now-set.Launch).Seconds(), 'f', -1, 64),
			set.Vehicle.Stages[i].Name, bodyName(set, states, i), happened)
		for _, c := range truthColumns {
			t.row = append(t.row, strconv.FormatFloat(c.of(&states[i]), 'g', -1, 64))
		}
		t.row = append(t.row, strconv.FormatFloat(t.ideal.flight.Stability(i).Margin, 'g', -1, 64))
		t.wrong = t.w.Write(t.row)
		happened = ""
	}
}

// bodyName joins the names of the stages that fly as one with a stage.
func bodyName(set *sim.Setup, states []sim.State, stage int) string {
	var names []string
	for i := range states {
		if joined(&states[i], &states[stage]) {
			names = append(names, set.Vehicle.Stages[i].Name)
		}
	}
	return strings.Join(names, "+")
}

// joined reports whether two stages are one body: their states are equal except for the stage's position.
func joined(a, b *sim.State) bool {
	x := *a
	x.Front = b.Front
	return x == *b
}

func (t *truthTable) close() error {
	t.w.Flush()
	if t.wrong == nil {
		t.wrong = t.w.Error()
	}
	return t.wrong
}
