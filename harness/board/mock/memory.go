package mock

// phase is the phase of the flight that the board has detected.
type phase uint8

const (
	phaseStanding  phase = iota // on the pad
	phasePowered                // a motor burns
	phaseUnpowered              // still climbing, without thrust
	phaseFalling                // after apogee
	phaseSlowed                 // the main has been opened
	phaseDown                   // on the ground
)

var phaseNames = [...][16]byte{fixed16("standing"), fixed16("powered"), fixed16("unpowered"), fixed16("falling"), fixed16("slowed"), fixed16("down")}

func fixed16(s string) (w [16]byte) {
	copy(w[:], s)
	return w
}

// memory is the board's small non-volatile memory: all that it still has after its supply has failed. Times are in
// microseconds of the run.
type memory struct {
	valid          bool
	clock          int64 // when it was last written
	armed          bool
	phase          phase
	groundPressure float64 // Pa, pressure at the pad
	groundSamples  float64 // samples in the mean
	liftoff        int64
	burnout        int64 // of the first motor; 0: not yet
	apogee         int64
	maxHeight      float64 // m, greatest height

	staged, drogue, main       bool // outputs that have been fired
	stagedAt, drogueAt, mainAt int64
}

// inFlight says that the rocket has left the pad and has not landed.
func (m *memory) inFlight() bool { return m.phase != phaseStanding && m.phase != phaseDown }

// longestOutage is how long the supply may fail, in us, across a wrap of the clock's 32 bits.
const longestOutage = 300_000_000

// resume extends the time at which the board starts again. A time before the memory's is that of another run, which
// knows nothing of the last one, unless the clock has wrapped meanwhile.
func (m *memory) resume(t uint32) int64 {
	now := int64(t)
	if passed := int64(t - uint32(m.clock)); m.valid && passed < longestOutage {
		return m.clock + passed
	}
	if now < m.clock {
		*m = memory{}
	}
	return now
}

// averageGround adds a pressure to the mean at the pad, which has a memory of about 10 s at 50 Hz. Jumps are limited,
// so that a door or a gust changes the mean little.
func (m *memory) averageGround(p float64) {
	d := p - m.groundPressure
	if m.groundSamples >= 10 {
		d = min(max(d, -50), 50)
	}
	m.groundSamples = min(m.groundSamples+1, 500)
	m.groundPressure += d / m.groundSamples
}
