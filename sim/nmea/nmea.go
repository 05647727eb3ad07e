// Package nmea writes GNSS fixes as NMEA 0183 sentences, for a board whose receiver is fed on a port of
// its own: GGA (fix), RMC (recommended minimum), GSA (mode and dilution), VTG (course and speed). It
// never opens a port or reads a clock: the date is the caller's, the time that of the run.
//
// Forms and fields are those of NMEA 0183 versions 2.3 to 4.0, from memory and from public descriptions;
// the test reads them back with an independent decoder. Positions have five decimals of a minute, 19 mm
// on the ground; times hundredths of a second, cut off.
package nmea

import (
	"math"
	"strconv"

	"drystage/sim"
	"drystage/sim/plain"
)

// Encoder writes sentences. The zero Encoder begins at midnight of 1 January 2000, talker GP.
type Encoder struct {
	Start  Moment // of the run, in UTC
	Talker string // two letters, such as GN; empty: GP
	// Geoid is the height in m of mean sea level above the ellipsoid, as GGA tells it. Of a receiver that gives heights
	// above the ellipsoid it is 0.
	Geoid float64
}

// Sentences is a set of sentences.
type Sentences uint8

// The sentences.
const (
	GGA Sentences = 1 << iota
	RMC
	GSA
	VTG
	All = GGA | RMC | GSA | VTG
)

// Dilutions of precision of every fix; invented, in the range of good receivers.
const pdop, hdop, vdop = "1.5", "0.9", "1.2"

// Append appends the sentences of a fix at a time of the run to dst, each with its checksum and line
// end, none longer than the 82 characters that the standard allows.
func (e *Encoder) Append(dst []byte, t sim.Time, f *sim.Fix, which Sentences) []byte {
	s := sentence{out: dst, talker: e.Talker}
	if s.talker == "" {
		s.talker = "GP"
	}
	m := e.Start.after(t)
	if which&GGA != 0 {
		s.gga(&m, f, e.Geoid)
	}
	if which&RMC != 0 {
		s.rmc(&m, f)
	}
	if which&GSA != 0 {
		s.gsa(f)
	}
	if which&VTG != 0 {
		s.vtg(f)
	}
	return s.out
}

func (s *sentence) gga(m *Moment, f *sim.Fix, geoid float64) {
	s.begin("GGA")
	s.clock(m)
	s.place(f)
	if f.Kind == sim.NoFix {
		s.fields("0", "00", "", "", "M", "", "M", "", "")
		s.end()
		return
	}
	s.field("1")
	s.digits(int64(min(max(f.Satellites, 0), 99)), 2)
	s.field(hdop)
	s.number(f.Height, 1)
	s.field("M")
	s.number(geoid, 1)
	s.fields("M", "", "")
	s.end()
}

func (s *sentence) rmc(m *Moment, f *sim.Fix) {
	s.begin("RMC")
	s.clock(m)
	status, mode := "A", "A"
	if f.Kind == sim.NoFix {
		status, mode = "V", "N"
	}
	s.field(status)
	s.place(f)
	if f.Kind == sim.NoFix {
		s.fields("", "")
	} else {
		speed, course := ground(f)
		s.number(speed/knot, 2)
		s.number(course, 1)
	}
	s.digits(int64(m.Day*10000+m.Month*100+m.Year%100), 6)
	s.fields("", "", mode)
	s.end()
}

func (s *sentence) gsa(f *sim.Fix) {
	s.begin("GSA")
	mode, used := "1", 0
	if f.Kind != sim.NoFix {
		mode, used = strconv.Itoa(int(f.Kind)), min(max(f.Satellites, 0), 12)
	}
	s.fields("A", mode)
	for i := range 12 {
		if i < used {
			s.digits(int64(i+1), 2)
		} else {
			s.field("")
		}
	}
	if used == 0 {
		s.fields("99.9", "99.9", "99.9")
	} else {
		s.fields(pdop, hdop, vdop)
	}
	s.end()
}

func (s *sentence) vtg(f *sim.Fix) {
	s.begin("VTG")
	if f.Kind == sim.NoFix {
		s.fields("", "T", "", "M", "", "N", "", "K", "N")
		s.end()
		return
	}
	speed, course := ground(f)
	s.number(course, 1)
	s.fields("T", "", "M")
	s.number(speed/knot, 2)
	s.field("N")
	s.number(speed*3.6, 2)
	s.fields("K", "A")
	s.end()
}

const knot = 1852.0 / 3600 // m/s; International Hydrographic Conference 1929

// ground gives the speed over ground in m/s and the course in degrees from true north.
func ground(f *sim.Fix) (speed, course float64) {
	v := &f.Velocity
	speed = math.Sqrt(float64(v.X*v.X) + float64(v.Y*v.Y))
	course = float64(plain.Atan2(v.X, v.Y) * (180 / math.Pi))
	if course < 0 {
		course += 360
	}
	if course >= 359.95 { // which would be written as 360.0
		course = 0
	}
	return speed, course
}
