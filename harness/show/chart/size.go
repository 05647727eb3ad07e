package chart

// Size is a width that pictures of a page are made in, with the class by which the page shows the one that fits.
type Size struct {
	Class string
	Width float64
}

// Sizes are those of wide screens and paper, and of phones.
var Sizes = []Size{{"broad", 960}, {"slim", 400}}
