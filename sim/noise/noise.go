// Package noise gives named streams of random numbers, all from one seed. Each name has its own stream, so a new
// stream doesn't change the others: a simulation with one more sensor keeps the noise of the rest. The numbers
// have the same bits on every processor. It uses no clock, no global source and no entropy of the machine. Don't
// use it for secrets.
package noise

import "math/rand/v2"

// Stream is one stream of random numbers, for use by one goroutine. Using it doesn't allocate.
type Stream struct{ src rand.PCG }

// New gives the stream of a name under a seed, at its beginning. Equal arguments give equal numbers.
func New(seed uint64, name string) *Stream {
	s := new(Stream)
	s.src.Seed(hash(seed, 1, name), hash(seed, 2, name))
	return s
}

// Uniform gives a number in [0, 1), a multiple of 2^-53.
func (s *Stream) Uniform() float64 { return float64(s.src.Uint64()>>11) * 0x1p-53 }

// Normal gives a number of the normal distribution with mean 0 and standard deviation 1.
func (s *Stream) Normal() float64 {
	u := s.src.Uint64()
	if l := &sure[u&0xff]; u>>11 < l.inside {
		return l.value(u)
	}
	return s.reject(u)
}

// Normal3 gives what three calls of Normal give.
func (s *Stream) Normal3() (x, y, z float64) {
	u := s.src.Uint64()
	if l := &sure[u&0xff]; u>>11 < l.inside {
		x = l.value(u)
	} else {
		x = s.reject(u)
	}
	u = s.src.Uint64()
	if l := &sure[u&0xff]; u>>11 < l.inside {
		y = l.value(u)
	} else {
		y = s.reject(u)
	}
	u = s.src.Uint64()
	if l := &sure[u&0xff]; u>>11 < l.inside {
		return x, y, l.value(u)
	}
	return x, y, s.reject(u)
}

// openUniform gives a number in (0, 1), ends excluded, for logarithms.
func (s *Stream) openUniform() float64 { return (float64(s.src.Uint64()>>12) + 0.5) * 0x1p-52 }

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
