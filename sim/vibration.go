package sim

// Vibration is how the airframe shakes while a motor of the body burns. Its size follows the acceleration that the
// motor gives the body, thrust over mass.
type Vibration struct {
	// Share is the standard deviation of the broadband part on each axis, as a share of thrust over mass.
	Share float64
	// Band is the frequency in Hz at which its spectrum, flat below, has fallen to half: a first-order process.
	Band  float64
	Tones []Tone
}

// Tone is a tone of a motor, along the body's axis, with its harmonics: number h has 1/h of the amplitude.
type Tone struct {
	Frequency float64 // Hz
	Share     float64 // root mean square of the fundamental, as a share of thrust over mass
	Harmonics int     // how many frequencies in all, the fundamental counted; 0 and 1: it alone
	// Wander is the relative standard deviation of the frequency, a Gauss-Markov process of the correlation time
	// Time in s.
	Wander, Time float64
}
