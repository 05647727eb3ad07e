package contract

import "drystage/sim"

// Direct is a board in the host's own process that can take the messages of an instant as values, without encoding.
// It must do and answer the same as for frames.
type Direct interface {
	// Take takes the samples and TICK of one instant and fills in the answers. It does nothing and returns false if
	// frames are needed: before HELLO, and in real time.
	Take(m *SampleSet, a *Answers) bool
}

// SampleSet is what a host sends at one instant: the samples named by Has, in the order of the table, then TICK.
type SampleSet struct {
	Has     sim.Parts
	Frames  uint8 // number of frames of the samples and TICK
	IMU     IMU
	Baro    Baro
	GNSS    GNSS
	Battery Battery
	Tick    Tick
}

// Of takes the new samples of a frame; now is TICK's time in us.
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

// Answers are what a board sends at an instant, DONE last.
type Answers struct {
	Outputs []Output
	Reports []Report
	Logs    []Log // their texts belong to the answers
	Done    Done
}

// Reset removes all answers and keeps the memory.
func (a *Answers) Reset() {
	a.Outputs, a.Reports, a.Logs = a.Outputs[:0], a.Reports[:0], a.Logs[:0]
}

// Frames is the number of frames of the answers.
func (a *Answers) Frames() uint8 { return uint8(len(a.Outputs) + len(a.Reports) + len(a.Logs) + 1) }

// Skip counts n frames that were passed as values.
func (e *Encoder) Skip(n uint8) { e.seq += n }

// Skip counts n frames that were passed as values.
func (d *Decoder) Skip(n uint8) { d.next += n }
