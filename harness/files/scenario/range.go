package scenario

import "drystage/sim/quantity"

// Range gives the dimension of a key of the blocks weather, wind and rail, and the range in SI that a file
// may give it, so that a flag that stands in for the key takes the same. Of other keys all is zero.
func Range(block, key string) (d quantity.Dimension, least, most float64) {
	t := map[string]*table{"weather": weatherTable, "wind": windTable, "rail": railUseTable}[block]
	if t == nil {
		return d, 0, 0
	}
	for _, r := range t.rows {
		if q, ok := r.is.(quantityShape); ok && r.key == key {
			return q.dim, q.min, q.max
		}
	}
	return d, 0, 0
}
