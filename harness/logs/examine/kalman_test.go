package examine

import (
	"math"
	"os"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// TestSmootherAgainstNumPy holds the smoother against an independent one, testdata/smoother_check.py,
// which updates jointly in Joseph form: states, variances and likelihood to 1e-9.
func TestSmootherAgainstNumPy(t *testing.T) {
	text, err := os.ReadFile("testdata/smoother.csv")
	require.NoError(t, err)
	const n, dt = 5, 0.02
	f := diagonal(Vector{1, 1, 1, 1, 1})
	f[0][1], f[0][2], f[1][2] = dt, dt*dt/2, dt
	q := diagonal(Vector{1e-6, 1e-5, 4, 1e-7, 1e-4})
	h := []Measured{{H: Vector{1, 0, 0, 0, 0}, R: 0.06}, {H: Vector{0, 0, 1, 1, 0}, R: 0.004}, {H: Vector{1, 0, 0, 0, 1}, R: 9}, {H: Vector{0, 1, 0, 0, 0}, R: 0.01}}
	var steps []Linear
	want := map[string][]float64{}
	for _, line := range strings.Split(strings.TrimSpace(string(text)), "\n")[1:] {
		w := strings.Split(line, ",")
		k, _ := strconv.Atoi(w[1])
		var v []float64
		for _, s := range w[2:] {
			x, err := strconv.ParseFloat(s, 64)
			require.NoError(t, err)
			v = append(v, x)
		}
		if w[0] != "z" {
			want[w[0]+w[1]] = v
			continue
		}
		for len(steps) <= k {
			steps = append(steps, Linear{F: f, Q: q})
		}
		m := h[int(v[0])]
		m.Z = v[1]
		steps[k].Z = append(steps[k].Z, m)
	}
	got, err := Smooth(Vector{}, diagonal(Vector{4, 1, 9, 0.25, 100}), steps)
	require.NoError(t, err)
	require.Len(t, steps, 60)
	worst := 0.0
	for k := range steps {
		for i := range n {
			x, p := want["x"+strconv.Itoa(k)][i], want["p"+strconv.Itoa(k)][i]
			worst = max(worst, math.Abs(got.X[k][i]-x), math.Abs(got.P[k][i][i]-p))
		}
	}
	ll := 0.0
	for _, v := range got.Innovations {
		ll -= 0.5 * (v.Nu*v.Nu/v.S + math.Log(2*math.Pi*v.S))
	}
	t.Logf("largest difference %.1e, of the log-likelihood %.1e", worst, ll-want["i0"][0])
	require.Less(t, worst, 1e-9)
	require.InDelta(t, want["i0"][0], ll, 1e-9)
}
