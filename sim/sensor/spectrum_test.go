package sensor

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"gonum.org/v1/gonum/dsp/fourier"
)

// density gives the one-sided power spectral density of a series in bands of equal width up to half the rate, with the
// middle of each band, by averaged periodograms of pieces under a Hann window.
func density(xs []float64, hz float64, bands int) (at, of []float64) {
	const piece = 1024
	fft := fourier.NewFFT(piece)
	window, power := make([]float64, piece), 0.0
	for i := range window {
		window[i] = 0.5 - 0.5*math.Cos(2*math.Pi*float64(i)/piece)
		power += window[i] * window[i]
	}
	at, of = make([]float64, bands), make([]float64, bands)
	per := piece / 2 / bands
	in, pieces := make([]float64, piece), 0
	for ; len(xs) >= piece; xs = xs[piece:] {
		pieces++
		for i := range in {
			in[i] = xs[i] * window[i]
		}
		for i, c := range fft.Coefficients(nil, in)[:bands*per] {
			of[i/per] += 2 * (real(c)*real(c) + imag(c)*imag(c)) / (power * hz)
		}
	}
	for i := range of {
		of[i] /= float64(pieces * per)
		at[i] = (float64(i) + 0.5) * hz / 2 / float64(bands)
	}
	return at, of
}

// sameSpectrum wants a sampled series to have the density of a continuous process, folded: at f the sum over all f + k
// times the rate. Each band is an average over hundreds of values, each spread as much as its mean.
func sameSpectrum(t *testing.T, reason string, xs []float64, hz float64, continuous func(f float64) float64) {
	t.Helper()
	const bands, folds, points = 16, 500, 8
	at, of := density(xs, hz, bands)
	for i := range at {
		want := 0.0
		for j := range points { // the mean over the band
			f := at[i] + ((float64(j)+0.5)/points-0.5)*hz/2/bands
			for k := -folds; k <= folds; k++ {
				want += continuous(math.Abs(f+float64(k)*hz)) / points
			}
		}
		assert.InEpsilon(t, want, of[i], 0.05, "%s: %.1f Hz", reason, at[i])
	}
}
