package record

// perBlock is how many rows, of ticks or of what happened, a block holds.
const perBlock = 2048

// span is how far apart columns are, so that the same row of two of them can be in a processor's cache at once.
const span = perBlock + 8

// grid holds the rows of a block as columns.
type grid [mostColumns][span]uint64

const mostColumns = max(stateColumns, frameColumns, reportColumns, injectionColumns)

// trait is what is known of the numbers of a column.
type trait struct {
	whole bool // integers
	step  float64
	parts float64
	twin  int // the column that it often equals, if it is not the first
	near  func(g *grid, row int) float64
}

// columns appends the columns of n rows. The first stage or board is what others are held against.
func (e *encoder) columns(g, first *grid, n int, traits []trait, hints []int) {
	for k := range traits {
		c := columnOf(g, first, k, n, traits)
		e.column(&c, &hints[k])
	}
}

// columns fills in the columns of n rows.
func (d *decoder) columns(g, first *grid, n int, traits []trait) {
	for k := range traits {
		c := columnOf(g, first, k, n, traits)
		d.column(&c)
	}
}

func columnOf(g, first *grid, k, n int, traits []trait) column {
	t := &traits[k]
	c := column{words: g[k][:n], whole: t.whole, step: t.step, parts: t.parts, near: t.near, grid: g}
	switch {
	case first != nil:
		c.twin = first[k][:n]
	case t.twin != 0:
		c.twin = g[t.twin][:n]
	}
	return c
}

// hints are where the search for the order of each column begins.
func hints() (h [mostColumns]int) {
	for i := range h {
		h[i] = mostOrder - 1
	}
	return h
}
