// Package noise gives named streams of random numbers, all from one seed. Each name has its own stream, so a new
// stream doesn't change the others: a simulation with one more sensor keeps the noise of the rest. The numbers
// have the same bits on every processor. It uses no clock, no global source and no entropy of the machine. Don't
// use it for secrets.
package noise

import "math/bits"

// Stream is one stream of random numbers, for use by one goroutine. Using it doesn't allocate.
type Stream struct{ state state }

// state is that of a permuted congruential generator of 128 bits, with the output DXSM (O'Neill, HMC-CS-2014-0905, and its
// author's later numbers, as in math/rand/v2, which a test holds it against). Its methods return the next state, so that
// one may stay in registers from number to number.
type state struct{ high, low uint64 }

func (s state) next() (state, uint64) {
	const (
		byHigh, byLow     = 2549297995355413924, 4865540595714422341
		plusHigh, plusLow = 6364136223846793005, 1442695040888963407
	)
	high, low := bits.Mul64(s.low, byLow)
	high += s.high*byLow + s.low*byHigh
	low, carry := bits.Add64(low, plusLow, 0)
	high, _ = bits.Add64(high, plusHigh, carry)
	u := high ^ high>>32
	u *= 0xda942042e4dd58b5
	u ^= u >> 48
	return state{high, low}, u * (low | 1)
}

func (s *Stream) bits() (u uint64) {
	s.state, u = s.state.next()
	return u
}

// New gives the stream of a name under a seed, at its beginning. Equal arguments give equal numbers.
func New(seed uint64, name string) *Stream {
	return &Stream{state{hash(seed, 1, name), hash(seed, 2, name)}}
}

// Uniform gives a number in [0, 1), a multiple of 2^-53.
func (s *Stream) Uniform() float64 { return float64(s.bits()>>11) * 0x1p-53 }

// Normal gives a number of the normal distribution with mean 0 and standard deviation 1.
func (s *Stream) Normal() float64 {
	u := s.bits()
	if l := &sure[u&0xff]; u>>11 < l.inside {
		return l.value(u)
	}
	return s.reject(u)
}

// Normal3 gives what three calls of Normal give.
func (s *Stream) Normal3() (x, y, z float64) {
	next, u := s.state.next()
	next, v := next.next()
	next, w := next.next()
	k, l, m := &sure[u&0xff], &sure[v&0xff], &sure[w&0xff]
	if u>>11 < k.inside && v>>11 < l.inside && w>>11 < m.inside {
		s.state = next
		return k.value(u), l.value(v), m.value(w)
	}
	return s.Normal(), s.Normal(), s.Normal()
}

// openUniform gives a number in (0, 1), ends excluded, for logarithms.
func (s *Stream) openUniform() float64 { return (float64(s.bits()>>12) + 0.5) * 0x1p-52 }

// Bit gives one random bit, 0 or 1, for each number under a seed and a name: the same arguments give the same bit.
func Bit(seed uint64, name string, number uint64) uint32 {
	return uint32(mix(hash(seed, 3, name)^number) >> 63)
}

// hash hashes a seed, a lane and a name to 64 bits.
func hash(seed, lane uint64, name string) uint64 {
	h := mix(mix(seed) ^ lane)
	for i := range len(name) {
		h = mix(h ^ uint64(name[i]))
	}
	return mix(h ^ uint64(len(name))<<8)
}

// mix is a bijection in which each bit of z affects all bits of the result. The constants are those of Steele,
// Lea, Flood, "Fast splittable pseudorandom number generators", OOPSLA 2014 (from memory).
func mix(z uint64) uint64 {
	z += 0x9e3779b97f4a7c15
	z = (z ^ z>>30) * 0xbf58476d1ce4e5b9
	z = (z ^ z>>27) * 0x94d049bb133111eb
	return z ^ z>>31
}
