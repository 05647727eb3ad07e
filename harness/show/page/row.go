package page

import (
	"math"

	"drystage/harness"
	"drystage/harness/show/report"
)

// row is one finding.
type row struct {
	Text, Answer, Wanted, Seen, Why, Place string
	Margin, Percent                        string
	Bar                                    bar
}

// bar is a share of half a window, or of a limit, drawn from a line in the middle: inside to the right, outside to
// the left, at most to either end. Sizes are in percent of the whole.
type bar struct {
	Is, Out, Clipped bool
	Left, Width      float64
}

func barOf(f *harness.Finding) bar {
	if !f.HasMargin || math.IsNaN(f.Share) {
		return bar{}
	}
	part := min(math.Abs(f.Share), 1)
	b := bar{Is: true, Out: f.Share < 0 || f.Answer == harness.Fail, Clipped: math.Abs(f.Share) > 1, Left: 50, Width: max(math.Round(500*part)/10, 2)}
	if f.Share < 0 {
		b.Left = 50 - b.Width
	}
	return b
}

func rowOf(f *harness.Finding) row {
	r := row{
		Text: f.Text, Answer: f.Answer.String(), Wanted: f.Wanted, Seen: f.Seen, Place: f.Place.String(), Bar: barOf(f),
	}
	if f.Answer != harness.Pass {
		r.Why = f.Reason
	}
	if f.HasMargin {
		r.Margin, r.Percent = report.Margin(f), report.Percent(f.Share)
	}
	return r
}
