package report

import (
	"fmt"
	"io"
	"strings"

	"drystage/harness/judge/compare"
	"drystage/harness/show/schema"
)

// Against tells people what differs from earlier records, the gravest first.
func Against(w io.Writer, c *compare.Comparison, opt Options) error {
	p := newPage(w, opt)
	p.line("")
	p.line("%s", againstHead(c))
	for i := range c.Differences {
		d := &c.Differences[i]
		p.item("  "+padRight(d.Change.String(), 14), 16, d.Scenario+": "+d.Text+againstMargins(d))
	}
	for _, n := range againstNotes(c) {
		p.item("  ", 2, n)
	}
	return p.w.Flush()
}

// againstHead counts the differences in a line.
func againstHead(c *compare.Comparison) string {
	var parts []string
	for _, k := range []compare.Change{compare.Failing, compare.Doubtful, compare.Worse, compare.New, compare.Gone, compare.Mended, compare.Better} {
		if n := c.Count(k); n > 0 {
			parts = append(parts, fmt.Sprintf("%d %s", n, k))
		}
	}
	return fmt.Sprintf("against %s: %s", Plain(c.With), strings.Join(append(parts, fmt.Sprintf("%d as they were", c.Same)), ", "))
}

// againstMargins tells the margins then and now.
func againstMargins(d *compare.Difference) string {
	side := func(answer string, has bool, margin string) string {
		if has {
			return answer + " " + margin
		}
		return answer
	}
	was, is := "not expected", "not expected"
	if d.Was.Text != "" {
		was = side(d.Was.Answer.String(), d.Was.HasMargin, Margin(&d.Was))
	}
	if d.Is.Text != "" {
		is = side(d.Is.Answer.String(), d.Is.HasMargin, Margin(&d.Is))
	}
	out := "; " + was + ", now " + is
	if share, both := d.Share(); both {
		out += fmt.Sprintf(" (%+.1f points of the limit)", share*100)
	}
	return out
}

// againstNotes tells what was not compared, and what makes a comparison doubtful.
func againstNotes(c *compare.Comparison) (notes []string) {
	for _, x := range []struct {
		list []string
		text string
	}{
		{c.Other, "flown from other files than then: "},
		{c.Missing, "without an earlier record: "},
		{c.Left, "on record, and not flown now: "},
	} {
		if len(x.list) > 0 {
			notes = append(notes, x.text+strings.Join(x.list, ", "))
		}
	}
	return notes
}

// againstObject is a comparison as JSON.
func againstObject(c *compare.Comparison) object {
	return object{
		{"records", c.With, "where the earlier records are"},
		{"worst", schema.OneOf(c.Worst().String(), compare.Words()...), "the gravest change"},
		{"same", c.Same, "expectations that are as they were"},
		{"newly_failing", c.Count(compare.Failing), "expectations that fail and did not"},
		{"newly_unsure", c.Count(compare.Doubtful), "expectations that are unsure and were not"},
		{"worse", c.Count(compare.Worse), "expectations whose margin shrank by more than half a percent of the limit"},
		{"better", c.Count(compare.Better), "expectations whose margin grew by more than that"},
		{"mended", c.Count(compare.Mended), "expectations that pass and did not"},
		{"differences", list(c.Differences, differenceObject), "the gravest first"},
		{"other_files", when(len(c.Other) > 0, c.Other), "scenarios that were flown from other files then"},
		{"without_record", when(len(c.Missing) > 0, c.Missing), "scenarios without an earlier record"},
		{"not_flown_now", when(len(c.Left) > 0, c.Left), "scenarios that are on record and were not flown now"},
	}
}

func differenceObject(d *compare.Difference) object {
	share, both := d.Share()
	return object{
		{"scenario", d.Scenario, "its name"},
		{"expectation", d.Text, "what was demanded"},
		{"place", omitZero(d.Place.String()), placeDoc},
		{"change", schema.OneOf(d.Change.String(), compare.Words()...), "what became of it"},
		{"was", when(d.Was.Text != "", findingObject(&d.Was)), "then"},
		{"is", when(d.Is.Text != "", findingObject(&d.Is)), "now"},
		{"share", when(both, number(share)), "how much the margin grew, as a share of the limit"},
	}
}
