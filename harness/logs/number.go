package logs

import (
	"math"
	"strconv"
)

var tens = [...]float64{1, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11, 1e12, 1e13, 1e14, 1e15}

// number reads a decimal number with the decimal sign. Numbers of up to 15 digits without an
// exponent, nearly all of a log, are read without a detour: mantissa and power of ten are then exact
// doubles, so that their quotient is the nearest one.
func number(b []byte, comma bool) (x float64, ok bool) {
	i, neg := 0, false
	if len(b) > 0 && (b[0] == '-' || b[0] == '+') {
		neg, i = b[0] == '-', 1
	}
	var m uint64
	digits, places, point := 0, 0, false
	for ; i < len(b); i++ {
		switch c := b[i]; {
		case c >= '0' && c <= '9':
			m = m*10 + uint64(c-'0')
			digits++
			if point {
				places++
			}
		case (c == '.' && !comma || c == ',' && comma) && !point:
			point = true
		default:
			return slow(b, comma)
		}
		if digits > 15 {
			return slow(b, comma)
		}
	}
	if digits == 0 {
		return 0, false
	}
	x = float64(m) / tens[places]
	if neg {
		x = -x
	}
	return x, true
}

func slow(b []byte, comma bool) (float64, bool) {
	if len(b) > 64 {
		return 0, false
	}
	t := make([]byte, len(b))
	for i, c := range b {
		switch {
		case comma && c == ',':
			c = '.'
		case comma && c == '.', c == '_', c == 'x', c == 'X', c == 'p', c == 'P':
			return 0, false
		}
		t[i] = c
	}
	x, err := strconv.ParseFloat(string(t), 64)
	return x, err == nil && !math.IsNaN(x) && !math.IsInf(x, 0)
}

// counts turns a value in SI into whole counts of a channel; ok is false when they can't hold it.
func (c *Channel) counts(x float64) (n int32, ok bool) {
	r := math.Round(x / c.Count)
	if !(math.Abs(r) < math.MaxInt32) {
		return Missing, false
	}
	return int32(r), true
}
