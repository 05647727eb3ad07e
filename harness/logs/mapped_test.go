package logs

import (
	"bytes"
	"fmt"
	"math"
	"os"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"drystage/harness/logs/logtest"
)

// seeds is how many logs of the second source are tried: few here, 500 with DRYSTAGE_LOGS=500.
func seeds(t *testing.T, usual int) uint64 {
	if s := os.Getenv("DRYSTAGE_LOGS"); s != "" {
		n, err := strconv.Atoi(s)
		require.NoError(t, err, "DRYSTAGE_LOGS")
		return uint64(n)
	}
	return uint64(usual)
}

// shaped gives the beginning of a log, up to 15 s of flight, in a shape of its seed.
func shaped(seed uint64) ([]byte, []logtest.Want, logtest.Shape) {
	r := logtest.Draw(seed)
	r.End = r.Pad + 15
	if seed%10 == 9 { // one in ten tells a height, and no pressure
		r.Baro, r.BaroHeight = true, true
	}
	s := logtest.DrawShape(seed)
	text, want := logtest.Fly(r).Write(s)
	return text, want, s
}

// graded holds a proposal against what the columns mean. Wrong are columns that are taken for something else;
// missed are those that are left out though their name and unit are told. What the text doesn't tell may be left out.
func graded(p *Proposal, want []logtest.Want) (wrong, missed []string) {
	for i, w := range want {
		label := fmt.Sprintf("#%d", i+1)
		is := func(name string) bool { return name == label || w.Name != "" && name == w.Name }
		if is(p.Mapping.Time.Column) {
			if w.Is != "time" || p.Mapping.Time.Unit != w.Unit {
				wrong = append(wrong, fmt.Sprintf("%s %q as time in %s, which is %s in %s", label, w.Name, p.Mapping.Time.Unit, w.Is, w.Unit))
			}
			continue
		}
		k := slices.IndexFunc(p.Mapping.Columns, func(c Column) bool { return is(c.Column) })
		if k < 0 {
			if w.Is != "" && w.Told {
				missed = append(missed, fmt.Sprintf("%s %q, which is %s in %s", label, w.Name, w.Is, w.Unit))
			}
			continue
		}
		c := p.Mapping.Columns[k]
		same := c.Is == w.Is || c.Is == "board "+w.Is && w.Is != "" || strings.HasPrefix(w.Is, "output") && strings.HasPrefix(c.Is, "output") ||
			w.Name == "" && strings.HasPrefix(w.Is, "accelerometer") && strings.HasPrefix(c.Is, "accelerometer") // without names nobody knows the axes
		unit := c.Unit == w.Unit || c.Unit == "" && !w.Told || w.Unit == "hPa" && c.Unit == "mbar" || w.Unit == "mbar" && c.Unit == "hPa"
		if !same || !unit {
			wrong = append(wrong, fmt.Sprintf("%s %q as %s in %s, which is %s in %s", label, w.Name, c.Is, c.Unit, w.Is, w.Unit))
		}
	}
	return wrong, missed
}

// TestMappingOfManyShapes: of seeded logs in the shapes in which people keep them, the columns are understood in
// at least 95 %, and where they are not, somebody is asked.
func TestMappingOfManyShapes(t *testing.T) {
	n := seeds(t, 30)
	right, asked, silent := 0, 0, 0
	for seed := range n {
		text, want, shape := shaped(seed)
		p, err := Propose(bytes.NewReader(text), "x.csv")
		if !assert.NoError(t, err, "seed %d", seed) {
			continue
		}
		wrong, missed := graded(p, want)
		listed := len(p.Mapping.Columns) + len(p.Left)
		if p.Mapping.Time.Column != "" {
			listed++
		}
		assert.Equal(t, len(want), listed, "seed %d: every column is used or left out with a word\n%s", seed, p.YAML())
		if len(p.Doubts) > 0 {
			asked++
		}
		if len(wrong)+len(missed) == 0 {
			right++
			continue
		}
		if len(wrong) > 0 && len(p.Doubts) == 0 {
			silent++
			t.Errorf("seed %d: wrong without a CHECK: %s", seed, strings.Join(wrong, "; "))
		}
		first, _, _ := bytes.Cut(text, []byte("\n"))
		t.Logf("seed %d (header %v, units %d): wrong %q, missed %q, doubts %q\n   %s", seed, shape.Header, shape.Units, wrong, missed, p.Doubts, first)
	}
	t.Logf("%d logs: mapping right in %d (%.1f %%); asked in %d (%.1f %%); wrong without a word in %d", n, right, 100*float64(right)/float64(n), asked, 100*float64(asked)/float64(n), silent)
	assert.GreaterOrEqual(t, float64(right), 0.95*float64(n))
}

// TestShapedLogsAreRead: what was understood is read to the number, in every shape, and nothing is called damage.
func TestShapedLogsAreRead(t *testing.T) {
	read := 0
	for seed := uint64(1000); seed < 1000+seeds(t, 20); seed++ {
		r := logtest.Draw(seed)
		r.End = r.Pad + 8
		l := logtest.Fly(r)
		shape := logtest.DrawShape(seed)
		text, want := l.Write(shape)
		got, err := ReadText(bytes.NewReader(text), "x.csv", nil, Options{}, nil)
		if err != nil {
			require.ErrorContains(t, err, "--propose-mapping", "seed %d", seed)
			continue
		}
		read++
		for _, n := range got.Notes {
			assert.Equal(t, Repeated, n.Kind, "seed %d: %s", seed, n) // stamps are rounded
		}
		for k, c := range l.Columns {
			ch, ok := channelNamed(c.Is)
			s := &got.Streams[ch.Part]
			if !ok || !s.Has(ch.Index) || !want[k+1].Told {
				continue
			}
			for i := 0; i < s.Len(); i += 1 + s.Len()/50 {
				x, ok := s.Value(i, ch.Index)
				if !ok {
					continue
				}
				stamp, by := s.Times[i].Seconds(), tolerance(want[k+1].Unit)
				near := math.Abs(at(l, c.X, stamp)-x) < by || math.Abs(at(l, c.X, stamp-1e-3)-x) < by || math.Abs(at(l, c.X, stamp+1e-3)-x) < by
				require.True(t, near, "seed %d: %s at %s: %g, where it was %g", seed, c.Is, s.Times[i], x, at(l, c.X, stamp))
			}
		}
	}
	assert.Greater(t, read, 10)
}

// at gives a column's value at a stamp, or the last before it.
func at(l *logtest.Log, x []float64, stamp float64) float64 {
	last := math.NaN()
	for i := range x {
		if l.T[i] > stamp+0.6e-3 { // stamps are rounded to ms
			break
		}
		if !math.IsNaN(x[i]) {
			last = x[i]
		}
	}
	return last
}

// tolerance is what the decimals of a unit leave open, and a rounded stamp near a change.
func tolerance(unit string) float64 {
	switch unit {
	case "Pa", "hPa", "mbar":
		return 1.1
	case "kPa", "inHg":
		return 2
	case "deg", "deg/s", "rad/s":
		return 2e-4
	case "g0", "mg0", "m/s2", "ft/s2":
		return 0.01
	}
	return 0.06
}
