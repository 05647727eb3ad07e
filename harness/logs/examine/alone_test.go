package examine

import (
	"bytes"
	"fmt"
	"io"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"drystage/harness/logs"
	"drystage/harness/logs/logtest"
	"drystage/sim"
)

// fixes is a flight of which only a receiver's log is left.
func fixes(seed uint64, kinds ...logtest.Kind) *logtest.Log {
	r := logtest.Draw(seed)
	r.Accel, r.Gyro, r.Baro, r.Battery, r.Own, r.Outputs = false, false, false, false, false, false
	r.GNSS, r.GNSSEvery, r.Rate, r.Jitter = true, 1, 10, 0
	for _, k := range kinds {
		r.Add(k)
	}
	return logtest.Fly(r)
}

// TestReceiverAlone: of a log of fixes alone the flight is found, with times as open as they are.
func TestReceiverAlone(t *testing.T) {
	for seed := range uint64(6) {
		l := fixes(seed)
		text, _ := l.Write(logtest.Plain())
		read, err := logs.ReadText(bytes.NewReader(text), "x.csv", nil, logs.Options{}, nil)
		require.NoError(t, err)
		r, err := Examine(read, Options{})
		require.NoError(t, err)
		for _, event := range []string{Liftoff, Apogee, Landing} {
			at, _ := l.Truth.When(event, 0)
			m, ok := r.first(event)
			if assert.True(t, ok, "seed %d: %s", seed, event) {
				assert.InDelta(t, at, m.At, m.Within, "seed %d: %s", seed, event)
				assert.Contains(t, m.From, "GNSS")
			}
		}
		assert.Empty(t, r.Findings, "seed %d", seed)
	}
	for seed := uint64(20); seed < 23; seed++ {
		l := fixes(seed, logtest.GNSSJump)
		text, _ := l.Write(logtest.Plain())
		read, err := logs.ReadText(bytes.NewReader(text), "x.csv", nil, logs.Options{}, nil)
		require.NoError(t, err)
		r, err := Examine(read, Options{})
		require.NoError(t, err)
		if !read.Streams[sim.PartGNSS].Has(logs.Up) {
			continue // nothing tells a jump of the height from the rocket's
		}
		require.Len(t, r.Findings, 1, "seed %d", seed)
		want := l.Truth.Anomalies[0]
		assert.Equal(t, Step, r.Findings[0].Kind, "seed %d", seed)
		assert.InDelta(t, want.At, r.Findings[0].From, 0.25, "seed %d", seed)
		assert.InDelta(t, want.Size, r.Findings[0].Size, 0.2*math.Abs(want.Size), "seed %d", seed)
	}
}

// TestSentencesAlone: the same flight as NMEA 0183 sentences.
func TestSentencesAlone(t *testing.T) {
	l := fixes(3)
	lat, lon, height := l.Column("gnss latitude"), l.Column("gnss longitude"), l.Column("gnss height")
	ddmm := func(rad float64, sign string, digits int) string {
		deg := math.Abs(rad) * 180 / math.Pi
		s := sign[:1]
		if rad < 0 {
			s = sign[1:]
		}
		return fmt.Sprintf("%0*d%08.5f,%s", digits, int(deg), 60*(deg-math.Floor(deg)), s)
	}
	var b strings.Builder
	for i, t := range l.T {
		body := fmt.Sprintf("GNGGA,%02d%02d%05.2f,%s,%s,1,09,0.9,%.1f,M,47.0,M,,", 10+int(t)/3600, int(t)/60%60, math.Mod(t, 60), ddmm(lat[i], "NS", 2), ddmm(lon[i], "EW", 3), height[i])
		sum := byte(0)
		for k := range len(body) {
			sum ^= body[k]
		}
		fmt.Fprintf(&b, "$%s*%02X\r\n", body, sum)
	}
	read, err := logs.ReadText(strings.NewReader(b.String()), "x.nmea", nil, logs.Options{}, nil)
	require.NoError(t, err)
	r, err := Examine(read, Options{})
	require.NoError(t, err)
	at, _ := l.Truth.When("apogee", 0)
	m, ok := r.first(Apogee)
	require.True(t, ok)
	assert.InDelta(t, at, m.At, m.Within)
	require.NoError(t, Text(io.Discard, r, 80))
}

// TestReceiverAloneAfterHours: a receiver's height wanders for hours on the pad, which is no flight.
func TestReceiverAloneAfterHours(t *testing.T) {
	l := fixes(3)
	const rows = 60000 // an hour and forty minutes
	rng, wanders := rand.New(rand.NewPCG(1, 2)), 0.0
	times := make([]float64, 0, rows+len(l.T))
	for i := range rows {
		times = append(times, 0.1*float64(i))
	}
	for _, at := range l.T {
		times = append(times, 0.1*rows+at)
	}
	for c := range l.Columns {
		x := l.Columns[c].X
		more := make([]float64, rows, rows+len(x))
		for i := range more {
			more[i] = x[i%80]                     // those that the log has of the pad
			if l.Columns[c].Is == "gnss height" { // comes back to where it was
				wanders = 0.995*wanders + 0.4*rng.NormFloat64()
				more[i] += wanders * math.Sqrt(1-float64(i)/rows)
			}
		}
		l.Columns[c].X = append(more, x...)
	}
	l.T = times
	text, _ := l.Write(logtest.Plain())
	read, err := logs.ReadText(bytes.NewReader(text), "x.csv", nil, logs.Options{}, nil)
	require.NoError(t, err)
	r, err := Examine(read, Options{})
	require.NoError(t, err)
	assert.True(t, r.Cropped)
	for _, event := range []string{Liftoff, Apogee, Landing} {
		at, _ := l.Truth.When(event, 0)
		m, ok := r.first(event)
		if assert.True(t, ok, event) {
			assert.InDelta(t, 0.1*rows+at, m.At, m.Within, event)
		}
	}
}
