package nmea

import (
	"math"
	"strconv"

	"drystage/sim"
)

// sentence is a sentence being written.
type sentence struct {
	out    []byte
	talker string
	from   int // of the first byte that the checksum covers
}

func (s *sentence) begin(kind string) {
	s.out = append(s.out, '$')
	s.from = len(s.out)
	s.out = append(append(s.out, s.talker...), kind...)
}

// end adds the checksum: the exclusive or of all between $ and *, in two hexadecimal digits.
func (s *sentence) end() {
	sum := Checksum(s.out[s.from:])
	const hex = "0123456789ABCDEF"
	s.out = append(s.out, '*', hex[sum>>4], hex[sum&15], '\r', '\n')
}

// Checksum gives the exclusive or of the bytes between $ and *.
func Checksum(between []byte) (sum byte) {
	for _, b := range between {
		sum ^= b
	}
	return sum
}

func (s *sentence) field(text string) { s.out = append(append(s.out, ','), text...) }

func (s *sentence) fields(texts ...string) {
	for _, t := range texts {
		s.field(t)
	}
}

// digits writes a whole number, not negative, with leading zeros.
func (s *sentence) digits(n int64, width int) {
	s.out = append(s.out, ',')
	s.bare(n, width)
}

func (s *sentence) bare(n int64, width int) {
	from := len(s.out)
	s.out = strconv.AppendInt(s.out, n, 10)
	for len(s.out)-from < width {
		s.out = append(s.out, 0)
		copy(s.out[from+1:], s.out[from:])
		s.out[from] = '0'
	}
}

// number writes a number with decimals, limited to what a sentence has room for.
func (s *sentence) number(x float64, decimals int) {
	if x != x {
		x = 0
	}
	s.out = strconv.AppendFloat(append(s.out, ','), min(max(x, -99999), 999999), 'f', decimals, 64)
}

func (s *sentence) clock(m *Moment) {
	s.digits(int64(m.Hour*10000+m.Minute*100+m.Second), 6)
	s.out = append(s.out, '.')
	s.bare(int64(m.Nanosecond/10_000_000), 2)
}

// place writes latitude and longitude, or leaves them empty without a fix.
func (s *sentence) place(f *sim.Fix) {
	if f.Kind == sim.NoFix {
		s.fields("", "", "", "")
		return
	}
	s.angle(f.Latitude, 2, 90, "N", "S")
	s.angle(f.Longitude, 3, 180, "E", "W")
}

// angle writes degrees and minutes with five decimals, rounded as a whole so that no minute is 60.
func (s *sentence) angle(rad float64, width int, most float64, plus, minus string) {
	const perDegree = 60 * 100_000
	deg := rad * (180 / math.Pi)
	if deg != deg {
		deg = 0
	}
	n := int64(math.Round(min(math.Abs(deg), most) * perDegree))
	s.digits(n/perDegree, width)
	s.bare(n%perDegree/100_000, 2)
	s.out = append(s.out, '.')
	s.bare(n%100_000, 5)
	if rad < 0 {
		plus = minus
	}
	s.field(plus)
}
