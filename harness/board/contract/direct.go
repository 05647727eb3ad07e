package contract

import (
	"math/bits"

	"drystage/sim"
)

// Direct is a board in the host's own process that can take the messages of an instant as values, without encoding.
// It must do and answer the same as for frames.
type Direct interface {
	// Take takes the samples and TICK of one instant and fills in the answers. It does nothing and returns false if
	// frames are needed: before HELLO, and in real time.
	Take(m *SampleSet, a *Answers) bool
}

// SampleSet is what a host sends at one instant: the samples named by Has, in the order of the table, then TICK. A
// message is made only when a board asks for it.
type SampleSet struct {
	Has    sim.Parts
	Frames uint8 // number of frames of the samples and TICK
	Tick   Tick
	frame  *sim.Frame
}

// Of takes the new samples of a frame, at TICK's time in us.
func (m *SampleSet) Of(f *sim.Frame, now uint32) {
	m.Has, m.Tick.Time, m.frame = f.Has, now, f
	imu := (f.Has | f.Has>>1) & sim.HasAccel // one message for both
	m.Frames = 1 + uint8(bits.OnesCount8(uint8(f.Has&^(sim.HasAccel|sim.HasGyro)|imu)))
}

// IMU fills in the message of the inertial samples, if Has names one.
func (m *SampleSet) IMU(to *IMU) { to.of(m.frame) }

// Baro gives the barometer's message, if Has names it.
func (m *SampleSet) Baro() Baro { return BaroOf(m.frame) }

// GNSS gives the receiver's message, if Has names it.
func (m *SampleSet) GNSS() GNSS { return GNSSOf(m.frame) }

// Circuits gives what the continuity check reads, if Has names it.
func (m *SampleSet) Circuits() Circuits { return CircuitsOf(m.frame) }

// Mag gives the magnetometer's message, if Has names it.
func (m *SampleSet) Mag() Mag { return MagOf(m.frame) }

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
