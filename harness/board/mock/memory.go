package mock

// phase is where the board thinks the flight is.
type phase uint8

const (
	onPad phase = iota
	boosting
	coasting
	descending
	underMain
	landed
)

var phaseNames = [...][16]byte{word("pad"), word("boost"), word("coast"), word("descent"), word("main"), word("landed")}

func word(s string) (w [16]byte) {
	copy(w[:], s)
	return w
}

// memory is the board's small non-volatile memory: all that it knows after its supply has failed.
// Times are in microseconds of the run.
type memory struct {
	valid   bool
	clock   int64 // when it was last written
	armed   bool
	phase   phase
	ground  float64 // Pa, pressure at the pad
	weight  float64 // samples behind ground
	liftoff int64
	burnout int64 // of the first motor; 0: not yet
	apogee  int64
	top     float64 // m, greatest height

	staged, drogue, main       bool // outputs that have been fired
	stagedAt, drogueAt, mainAt int64
}

// flying says that the rocket has left the pad and is not down.
func (m *memory) flying() bool { return m.phase != onPad && m.phase != landed }

// learn takes a pressure at the pad into the mean, which forgets after about 10 s at 50 Hz. A jump
// counts as a small one, so that a slammed door or a gust moves little.
func (m *memory) learn(p float64) {
	d := p - m.ground
	if m.weight >= 10 {
		d = min(max(d, -50), 50)
	}
	m.weight = min(m.weight+1, 500)
	m.ground += d / m.weight
}
