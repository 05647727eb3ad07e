package scenario

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"drystage/harness"
	"drystage/sim/quantity"
	"drystage/sim/r3"
)

// mounting tells where two or three of a part's axes point; it reads to [3]r3.Vec in body axes.
type mounting struct{}

const mountingForm = `two or three of "x|y|z up|down|left|right|front|back", as in "x up, y left", or the three rows of a rotation matrix`

// directions are unit vectors in body axes: x up, y left, z back, facing the rocket on its pad.
var directions = [...]struct {
	word string
	axis r3.Vec
}{{"up", r3.Vec{X: 1}}, {"down", r3.Vec{X: -1}}, {"left", r3.Vec{Y: 1}}, {"right", r3.Vec{Y: -1}}, {"back", r3.Vec{Z: 1}}, {"front", r3.Vec{Z: -1}}}

func (mounting) schema() map[string]any {
	const word = `[xyz]\s+(up|down|left|right|front|back)`
	row := map[string]any{"type": "array", "items": map[string]any{"type": "number"}, "minItems": 3, "maxItems": 3}
	return map[string]any{"anyOf": []any{pattern(`^\s*` + word + `((\s+|\s*,\s*)` + word + `){1,2}\s*$`), map[string]any{"type": "array", "items": row, "minItems": 3, "maxItems": 3}}}
}

func (mounting) read(l *loader, n *node) any {
	var axes [3]r3.Vec
	var hint string
	if n.kind == list && len(n.items) == 3 {
		rows, ok := matrix{1}.read(l, n).([3]r3.Vec)
		if !ok {
			return nil
		}
		axes, hint = rotation(rows)
	} else if !l.isScalar(n, mountingForm) {
		return nil
	} else {
		axes, hint = parseMounting(strings.Fields(strings.ReplaceAll(n.text, ",", " ")))
	}
	if hint != "" {
		l.report(harness.Problem{Place: n.at, Found: n.found(), Wanted: mountingForm, Hint: hint})
		return nil
	}
	return axes
}

// matrix is three rows of three numbers, each at most max either way; it reads to [3]r3.Vec.
type matrix struct{ max float64 }

func (m matrix) read(l *loader, n *node) any {
	rows, ok := listShape{vector{quantity.Number, m.max}, 3, 3}.read(l, n).([]value)
	if !ok {
		return nil
	}
	var out [3]r3.Vec
	for i := range rows {
		if !rows[i].ok() {
			return nil
		}
		out[i] = rows[i].vec()
	}
	return out
}

func (m matrix) schema() map[string]any {
	return listShape{vector{quantity.Number, m.max}, 3, 3}.schema()
}

// rotation makes the rows of a matrix with a few decimals exactly orthonormal: the first row keeps its direction, the
// second its plane.
func rotation(m [3]r3.Vec) (axes [3]r3.Vec, hint string) {
	const loose = 5e-3
	for i := range m {
		if math.Abs(r3.Norm(m[i])-1) > loose || math.Abs(r3.Dot(m[i], m[(i+1)%3])) > loose {
			return m, "each row has length 1 and stands at right angles to the others"
		}
	}
	if r3.Dot(r3.Cross(m[0], m[1]), m[2]) < 0 {
		return m, "x, y, z are right-handed; this matrix mirrors"
	}
	axes[0] = r3.Unit(m[0])
	axes[2] = r3.Unit(r3.Cross(axes[0], m[1]))
	axes[1] = r3.Cross(axes[2], axes[0])
	return axes, ""
}

func parseMounting(words []string) (axes [3]r3.Vec, hint string) {
	if len(words) != 4 && len(words) != 6 {
		return axes, "the third axis follows from two"
	}
	for i := 0; i < len(words); i += 2 {
		a := strings.Index("xyz", words[i])
		d := slices.IndexFunc(directions[:], func(d struct {
			word string
			axis r3.Vec
		}) bool {
			return d.word == words[i+1]
		})
		if len(words[i]) != 1 || a < 0 || d < 0 {
			return axes, fmt.Sprintf("%s is none of these", quote(words[i]+" "+words[i+1]))
		}
		if axes[a] != (r3.Vec{}) {
			return axes, "each axis points one way"
		}
		axes[a] = directions[d].axis
	}
	for a := range axes {
		if axes[a] == (r3.Vec{}) {
			axes[a] = r3.Cross(axes[(a+1)%3], axes[(a+2)%3])
		}
	}
	for a := range axes {
		if axes[a] != r3.Cross(axes[(a+1)%3], axes[(a+2)%3]) || axes[a] == (r3.Vec{}) {
			return axes, "axes stand at right angles, and x, y, z are right-handed"
		}
	}
	return axes, ""
}
