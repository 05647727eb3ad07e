package record

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// walks are kinds of columns: each draws what comes after a number.
var walks = map[string]func(t *rapid.T, i int, last float64) float64{
	"anything": func(t *rapid.T, _ int, _ float64) float64 {
		return math.Float64frombits(rapid.Uint64().Draw(t, "bits"))
	},
	"smooth": func(_ *rapid.T, i int, _ float64) float64 { return math.Sin(float64(i) * 0.01) },
	"steps": func(t *rapid.T, _ int, _ float64) float64 {
		return float64(rapid.IntRange(-300, 300).Draw(t, "step")) * 0.005
	},
	"steps with negative zeros": func(t *rapid.T, _ int, _ float64) float64 {
		return math.Copysign(float64(rapid.IntRange(0, 2).Draw(t, "step"))*0.005, float64(rapid.IntRange(-1, 0).Draw(t, "sign")))
	},
	"thousandths": func(t *rapid.T, _ int, _ float64) float64 {
		return float64(rapid.IntRange(-9999, 9999).Draw(t, "step")) / 1000
	},
	"rare changes": func(t *rapid.T, _ int, last float64) float64 {
		if rapid.IntRange(0, 9).Draw(t, "changes") > 0 {
			return last
		}
		return rapid.Float64().Draw(t, "to")
	},
	"rare leaps": func(t *rapid.T, i int, last float64) float64 {
		if rapid.IntRange(0, 30).Draw(t, "leaps") > 0 {
			return last + 1
		}
		return float64(i) * 1e9
	},
	"the greatest": func(t *rapid.T, _ int, _ float64) float64 {
		return math.Copysign(math.MaxFloat64, float64(rapid.IntRange(-1, 0).Draw(t, "sign")))
	},
}

// Whatever a column holds, and whatever is said of it, comes back to the bit.
func TestEveryColumnComesBack(t *testing.T) {
	for name, next := range walks {
		t.Run(name, func(t *testing.T) {
			rapid.Check(t, func(t *rapid.T) {
				g := new(grid)
				n, last := rapid.IntRange(1, 300).Draw(t, "rows"), 0.0
				for i := range n {
					last = next(t, i, last)
					g[1][i], g[0][i] = math.Float64bits(last), math.Float64bits(last*0.5)
				}
				c := column{words: g[1][:n], whole: rapid.Bool().Draw(t, "whole"), grid: g}
				if rapid.Bool().Draw(t, "quantized") {
					c.step, c.parts = 0.005, 1000
				}
				if rapid.Bool().Draw(t, "near") {
					c.near = func(g *grid, row int) float64 { return 2 * at(g, 0, row) }
				}
				hint := rapid.IntRange(0, mostOrder).Draw(t, "hint")
				var e encoder
				e.column(&c, &hint)
				d := decoder{unpacker: unpacker{meta: e.meta, bits: bitReader{in: e.bits.bytes()}}}
				got := c
				got.words = make([]uint64, n)
				d.column(&got)
				require.False(t, d.bad || d.bits.short || len(d.meta) > 0 || !d.bits.spent(), "all was read, and no more")
				require.Equal(t, c.words, got.words)
			})
		})
	}
}
