package report

import (
	"bufio"
	"fmt"
	"io"
	"slices"
	"strings"

	"drystage/harness"
)

// Markdown writes a summary for the page of a job: the counts, a table of all scenarios with those first that did not
// pass, and what they did wrong.
func Markdown(w io.Writer, vs []harness.Verdict, opt Options) error {
	if len(vs) == 0 {
		return ErrEmpty
	}
	b := bufio.NewWriter(w)
	fmt.Fprintf(b, "## drystage: %s\n\n%s: %s", harness.Worst(vs), plural(len(vs), "scenario"), harness.Tally(vs))
	if n := harness.NotFlown(vs); n > 0 {
		fmt.Fprintf(b, "; %d of them not flown", n)
	}
	b.WriteString("\n")
	for _, s := range seats(vs) {
		fmt.Fprintf(b, "\n- board %s at `%s`", markdownCell(s.Role), markdownCode(s.Address))
	}
	b.WriteString("\n\n| scenario | verdict | margin | share | closest expectation |\n| --- | --- | ---: | ---: | --- |\n")
	for _, v := range failedFirst(vs) {
		r := row{answer: v.Answer.String(), margin: "-", share: "-", text: "nothing here has a margin"}
		if f, ok := Deciding(v); v.NotFlown != "" {
			r.text = "not flown: " + v.NotFlown
		} else if ok {
			r.text = f.Text
			if f.HasMargin {
				r.margin, r.share = Margin(&f), Percent(f.Share)
			}
		}
		if v.Answer != harness.Pass {
			r.answer = "**" + r.answer + "**"
		}
		fmt.Fprintf(b, "| %s | %s | %s | %s | %s |\n", markdownCell(v.Name), r.answer, markdownCell(r.margin), markdownCell(r.share), markdownCell(r.text))
	}
	for _, v := range failedFirst(vs) {
		if v.Answer != harness.Pass && v.NotFlown == "" {
			markdownDetails(b, v, &opt)
		}
	}
	if opt.Against != nil {
		markdownAgainst(b, &opt)
	}
	b.WriteString("\nNo permission to fly: your safety code and your range safety officer decide.\n")
	return b.Flush()
}

// failedFirst gives verdicts that failed, then those that are unsure, then those that pass.
func failedFirst(vs []harness.Verdict) (list []*harness.Verdict) {
	rank := map[harness.Answer]int{harness.Fail: 0, harness.Unsure: 1, harness.Pass: 2}
	for i := range vs {
		list = append(list, &vs[i])
	}
	slices.SortStableFunc(list, func(a, b *harness.Verdict) int { return rank[a.Answer] - rank[b.Answer] })
	return list
}

// mostTold is how many findings of a scenario a summary tells.
const mostTold = 8

func markdownDetails(b *bufio.Writer, v *harness.Verdict, opt *Options) {
	fmt.Fprintf(b, "\n### %s: %s\n\n", markdownCell(v.Name), markdownCell(v.Title))
	list := slices.DeleteFunc(slices.Clone(Findings(v)), func(f harness.Finding) bool { return !notPassed(f) })
	mostDangerousFirst(list)
	for i, f := range list {
		if i == mostTold {
			fmt.Fprintf(b, "- and %d more\n", len(list)-mostTold)
			break
		}
		at := ""
		if place := f.Place.String(); place != "" {
			at = " (`" + markdownCode(place) + "`)"
		}
		fmt.Fprintf(b, "- **%s** %s%s: %s\n", f.Answer, markdownCell(f.Text), at, markdownCell(f.Reason))
	}
	fmt.Fprintf(b, "\n```sh\n%s\n```\n", markdownCode(Repeat(v, opt)))
}

func markdownAgainst(b *bufio.Writer, opt *Options) {
	c := opt.Against
	fmt.Fprintf(b, "\n### %s\n", markdownCell(againstHead(c)))
	if len(c.Differences) > 0 {
		b.WriteString("\n| change | scenario | expectation |\n| --- | --- | --- |\n")
	}
	for i := range c.Differences {
		d := &c.Differences[i]
		fmt.Fprintf(b, "| %s | %s | %s |\n", d.Change, markdownCell(d.Scenario), markdownCell(d.Text+againstMargins(d)))
	}
	for _, n := range againstNotes(c) {
		fmt.Fprintf(b, "\n%s\n", markdownCell(n))
	}
}

// markdownCell makes a text that may be anybody's plain text in a cell or a line: no mark of Markdown and no HTML in it
// counts.
func markdownCell(s string) string {
	var b strings.Builder
	for _, c := range Plain(s) {
		if strings.ContainsRune("\\`*_{}[]()#!|<>~&@", c) {
			b.WriteString(fmt.Sprintf("&#%d;", c))
			continue
		}
		b.WriteRune(c)
	}
	return b.String()
}

// markdownCode makes a text fit between marks of code.
func markdownCode(s string) string { return strings.ReplaceAll(Plain(s), "`", "'") }

// Annotation is a line about a place in a file, for the page of a job.
type Annotation struct {
	Place harness.Place
	Fails bool // otherwise it is a warning
	Title string
	Text  string
}

// Annotations gives one for each expectation that did not pass, and one for each scenario whose run is in doubt.
func Annotations(vs []harness.Verdict) (list []Annotation) {
	for i := range vs {
		v := &vs[i]
		for _, f := range Findings(v) {
			if !notPassed(f) {
				continue
			}
			a := Annotation{f.Place, f.Answer == harness.Fail, v.Name + " " + f.Answer.String(), f.Text + ": " + f.Reason}
			if a.Place.File == "" {
				a.Place.File = v.File
			}
			list = append(list, a)
		}
	}
	return list
}

// WriteAnnotations writes them as workflow commands, which runners of jobs turn into marks beside the lines of files:
// ::error file=F,line=L,col=C,title=T::TEXT
func WriteAnnotations(w io.Writer, list []Annotation) error {
	b := bufio.NewWriter(w)
	for _, a := range list {
		kind := "warning"
		if a.Fails {
			kind = "error"
		}
		fmt.Fprintf(b, "::%s file=%s", kind, property(a.Place.File))
		if a.Place.Line > 0 {
			fmt.Fprintf(b, ",line=%d", a.Place.Line)
		}
		if a.Place.Column > 0 {
			fmt.Fprintf(b, ",col=%d", a.Place.Column)
		}
		fmt.Fprintf(b, ",title=%s::%s\n", property(a.Title), strings.ReplaceAll(Plain(a.Text), "%", "%25"))
	}
	return b.Flush()
}

// property escapes a property of a workflow command.
func property(s string) string {
	return strings.NewReplacer("%", "%25", ":", "%3A", ",", "%2C").Replace(Plain(s))
}
