package examine

import (
	"bytes"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"drystage/harness/logs"
	"drystage/harness/logs/logtest"
	"drystage/sim"
)

// TestRepeatedValuesAreOneSample: a mapping that does not say how slow a receiver and a barometer are, whose values stand in each
// row, makes no steps of them, and one that is stuck is found all the same.
func TestRepeatedValuesAreOneSample(t *testing.T) {
	for seed := range uint64(6) {
		r := foreign(7300 + seed)
		r.Rate, r.Jitter, r.Accel, r.Baro, r.BaroHeight, r.GNSS, r.BaroEvery, r.GNSSEvery, r.Charge = 100, 0, true, true, false, true, 4, 20, 0
		if seed%2 == 1 {
			r.Anomalies = []logtest.Anomaly{{Kind: logtest.Stuck, Part: "gnss", Axis: -1, Event: "burnout", Offset: 1, Length: 3}}
		}
		l := logtest.Fly(r)
		shape := logtest.Plain()
		shape.Repeat = true
		text, _ := l.Write(shape)
		p, err := logs.Propose(bytes.NewReader(text), "x.csv")
		require.NoError(t, err)
		for i := range p.Mapping.Columns {
			p.Mapping.Columns[i].Rate = ""
		}
		read, err := logs.ReadText(bytes.NewReader(text), "x.csv", p.Mapping, logs.Options{}, nil)
		require.NoError(t, err)
		require.Equal(t, read.Streams[sim.PartAccel].Len(), read.Streams[sim.PartGNSS].Len())
		res, err := Examine(read, Options{})
		require.NoError(t, err, "seed %d", seed)
		found := false
		for i, f := range res.Findings {
			switch {
			case seed%2 == 1 && told(l.Truth.Anomalies[0], &res.Findings[i]):
				found = true
			case f.Part == sim.PartGNSS || f.Part == sim.PartBaro:
				assert.Fail(t, "a finding that is none", "seed %d: %s", seed, list(res.Findings))
			}
		}
		assert.Equal(t, seed%2 == 1, found, "seed %d: %s", seed, list(res.Findings))
	}
}
