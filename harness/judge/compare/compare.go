// Package compare holds the verdicts of a run against those of earlier records: which margins grew or shrank, and what
// fails now that did not.
package compare

import (
	"cmp"
	"math"
	"slices"

	"drystage/harness"
)

// Change is what became of an expectation, the gravest last.
type Change uint8

// The changes. Better and Worse are about the margin, as a share of its limit, by more than Small.
const (
	Same     Change = iota
	Better          // its margin is larger
	Mended          // it passes and did not
	Gone            // it was expected before, and is not any more
	New             // it is expected now, and was not before
	Worse           // its margin is smaller
	Doubtful        // it is unsure, and was not
	Failing         // it fails, and did not
)

var changeWords = [...]string{"same", "better", "mended", "gone", "new", "worse", "newly unsure", "newly failing"}

// String gives the word for a change.
func (c Change) String() string { return changeWords[c] }

// Words lists the words for changes, in order.
func Words() []string { return changeWords[:] }

// Small is a difference of two margins, as a share of the limit, that does not count: half a percent.
const Small = 0.005

// Difference is an expectation then and now.
type Difference struct {
	Scenario string
	Place    harness.Place // now; of what is gone, then
	Text     string
	Change   Change
	Was, Is  harness.Finding // empty of what is new or gone
}

// Share is how much the margin grew, as a share of the limit; ok is false without two margins in one unit.
func (d *Difference) Share() (x float64, ok bool) {
	if !d.Was.HasMargin || !d.Is.HasMargin || d.Was.Unit != d.Is.Unit {
		return 0, false
	}
	return d.Is.Share - d.Was.Share, true
}

// Comparison is all that differs, the gravest first.
type Comparison struct {
	With        string // where the earlier records are
	Differences []Difference
	Same        int      // expectations that are as they were
	Other       []string // scenarios whose files were other ones then
	Missing     []string // scenarios without an earlier record
	Left        []string // earlier records of scenarios that were not flown now
}

// Count counts the differences of a kind.
func (c *Comparison) Count(kinds ...Change) (n int) {
	for i := range c.Differences {
		if slices.Contains(kinds, c.Differences[i].Change) {
			n++
		}
	}
	return n
}

// Worst is the gravest change; Same if nothing differs.
func (c *Comparison) Worst() (worst Change) {
	for i := range c.Differences {
		worst = max(worst, c.Differences[i].Change)
	}
	return worst
}

// Of compares verdicts with earlier ones, scenario by scenario of the same name, expectation by expectation of the same
// text.
func Of(was, is []harness.Verdict) *Comparison {
	c := &Comparison{}
	for i := range is {
		k := slices.IndexFunc(was, func(v harness.Verdict) bool { return v.Name == is[i].Name })
		if k < 0 {
			c.Missing = append(c.Missing, is[i].Name)
			continue
		}
		if was[k].Digest != is[i].Digest {
			c.Other = append(c.Other, is[i].Name)
		}
		c.scenario(&was[k], &is[i])
	}
	for i := range was {
		if !slices.ContainsFunc(is, func(v harness.Verdict) bool { return v.Name == was[i].Name }) {
			c.Left = append(c.Left, was[i].Name)
		}
	}
	slices.SortStableFunc(c.Differences, func(a, b Difference) int {
		x, _ := a.Share()
		y, _ := b.Share()
		return cmp.Or(cmp.Compare(b.Change, a.Change), cmp.Compare(x, y))
	})
	return c
}

// scenario compares the findings of one.
func (c *Comparison) scenario(was, is *harness.Verdict) {
	used := make([]bool, len(was.Findings))
	for _, f := range is.Findings {
		k := -1
		for i := range was.Findings {
			if !used[i] && was.Findings[i].Text == f.Text {
				k = i
				break
			}
		}
		d := Difference{Scenario: is.Name, Place: f.Place, Text: f.Text, Is: f, Change: New}
		if k >= 0 {
			used[k] = true
			d.Was = was.Findings[k]
			d.Change = change(&d)
		}
		c.add(d)
	}
	for i, f := range was.Findings {
		if !used[i] {
			c.add(Difference{Scenario: is.Name, Place: f.Place, Text: f.Text, Was: f, Change: Gone})
		}
	}
}

// add keeps a difference. What is new and passes, or is gone and passed, differs as well: files were changed.
func (c *Comparison) add(d Difference) {
	switch {
	case d.Change == Same:
		c.Same++
		return
	case d.Change == New && d.Is.Answer == harness.Fail:
		d.Change = Failing
	case d.Change == New && d.Is.Answer == harness.Unsure:
		d.Change = Doubtful
	}
	c.Differences = append(c.Differences, d)
}

// change says what became of an expectation that was there before.
func change(d *Difference) Change {
	was, is := d.Was.Answer, d.Is.Answer
	share, both := d.Share()
	switch {
	case is == harness.Fail && was != harness.Fail:
		return Failing
	case is == harness.Unsure && was == harness.Pass:
		return Doubtful
	case is == harness.Pass && was != harness.Pass:
		return Mended
	case is != was: // it failed, and is unsure now
		return Better
	case !both || math.IsNaN(share) || math.Abs(share) <= Small:
		return Same
	case share < 0:
		return Worse
	}
	return Better
}
