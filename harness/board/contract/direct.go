package contract

import "drystage/sim"

// Direct is a board in the host's own process that can be given the messages of an instant as they are: not
// stuffed, not checked, not copied. It must do and say what it would if they came over the line.
type Direct interface {
	// Take takes the samples and TICK of one instant and fills the answers. It does nothing and gives false
	// where a line is wanted: before HELLO, and in real time.
	Take(m *SampleSet, a *Answers) bool
}

// SampleSet is what a host says at one instant: the samples that Has names, in the table's order, then TICK.
type SampleSet struct {
	Has     sim.Parts
	Frames  uint8 // how many frames it would be
	IMU     IMU
	Baro    Baro
	GNSS    GNSS
	Battery Battery
	Tick    Tick
}

// Of takes what is fresh in a frame; now is the time of TICK in us.
func (m *SampleSet) Of(f *sim.Frame, now uint32) {
	m.Has, m.Frames, m.Tick.Time = f.Has, 1, now
	if f.Has&(sim.HasAccel|sim.HasGyro) != 0 {
		m.IMU.of(f)
		m.Frames++
	}
	if f.Has&^(sim.HasAccel|sim.HasGyro) == 0 {
		return
	}
	if f.Has&sim.HasBaro != 0 {
		m.Baro = BaroOf(f)
		m.Frames++
	}
	if f.Has&sim.HasGNSS != 0 {
		m.GNSS = GNSSOf(f)
		m.Frames++
	}
	if f.Has&sim.HasBattery != 0 {
		m.Battery = BatteryOf(f)
		m.Frames++
	}
}

// Answers are what a board says to a moment, DONE last.
type Answers struct {
	Outputs []Output
	Reports []Report
	Logs    []Log // their texts are the answers' own
	Done    Done
}

// Reset forgets all answers and keeps their memory.
func (a *Answers) Reset() {
	a.Outputs, a.Reports, a.Logs = a.Outputs[:0], a.Reports[:0], a.Logs[:0]
}

// Frames is how many frames the answers would be.
func (a *Answers) Frames() uint8 { return uint8(len(a.Outputs) + len(a.Reports) + len(a.Logs) + 1) }

// Skip counts n frames that went another way.
func (e *Encoder) Skip(n uint8) { e.seq += n }

// Skip counts n frames that went another way.
func (d *Decoder) Skip(n uint8) { d.next += n }
