package page

import (
	"cmp"
	"fmt"
	"html/template"
	"math"
	"slices"
	"strconv"
	"strings"

	"drystage/harness"
	"drystage/harness/chart"
	"drystage/harness/report"
)

// view is what the page shows.
type view struct {
	Style    template.CSS
	Answer   string
	Counts   report.Tally
	Total    int
	Boards   []seated
	Facts    []fact
	Sections []section
}

// seated is a board in some of the scenarios.
type seated struct {
	board
	In int
}

// fact is a word, and what there is to say on it.
type fact struct{ Word, Text string }

// section is one scenario.
type section struct {
	N                         int
	Name, Title, Story        string
	Answer                    string
	File, Digest, Seed        string
	Closest                   row
	Expectations, Doubts      []row
	Flights, Spoilt           []figure
	Boards                    []board
	Said                      []said
	Faults                    []mischief
	Lateness, Log, Repeat, By string
	Clocks                    []string
}

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

func newView(scenes []Scene, opt *report.Options) *view {
	v := &view{Style: chart.Style, Total: len(scenes), Boards: seats(scenes), Facts: facts(scenes)}
	var vs []harness.Verdict
	for i := range scenes {
		vs = append(vs, scenes[i].verdict)
	}
	v.Answer, v.Counts = harness.Worst(vs).String(), report.Count(vs)
	for n, i := range worstFirst(vs) {
		v.Sections = append(v.Sections, scenes[i].section(n+1, *opt))
	}
	return v
}

// worstFirst gives the order of verdicts: fail, unsure, pass, and of equal answers the smallest share first; what is
// no pass and has no margin comes before those, a pass without one after.
func worstFirst(vs []harness.Verdict) []int {
	type place struct {
		weight int
		share  float64
	}
	places, order := make([]place, len(vs)), make([]int, len(vs))
	for i := range vs {
		order[i] = i
		p := place{map[harness.Answer]int{harness.Fail: 0, harness.Unsure: 1, harness.Pass: 2}[vs[i].Answer], math.Inf(-1)}
		if vs[i].Answer == harness.Pass {
			p.share = math.Inf(1)
		}
		if f, ok := report.Deciding(&vs[i]); ok && f.HasMargin {
			p.share = f.Share
		}
		places[i] = p
	}
	slices.SortStableFunc(order, func(a, b int) int {
		return cmp.Or(cmp.Compare(places[a].weight, places[b].weight), cmp.Compare(places[a].share, places[b].share))
	})
	return order
}

// seats lists the boards of all scenarios, each once.
func seats(scenes []Scene) (list []seated) {
	for i := range scenes {
		for _, b := range scenes[i].boards {
			at := slices.IndexFunc(list, func(x seated) bool { return x.board == b })
			if at < 0 {
				at = len(list)
				list = append(list, seated{board: b})
			}
			list[at].In++
		}
	}
	return list
}

// facts tells what all scenarios have in common, or what there is of it.
func facts(scenes []Scene) []fact {
	var vehicles, seeds, versions, logs []string
	for i := range scenes {
		s := &scenes[i]
		vehicles = append(vehicles, s.vehicle)
		seeds = append(seeds, strconv.FormatUint(s.verdict.Seed, 10))
		versions = append(versions, fmt.Sprintf("drystage %s, %s, %s", s.made.Version, s.made.Go, s.made.Arch))
		logs = append(logs, s.log)
	}
	list := []fact{
		{"vehicle", several(vehicles)}, {"seed", several(seeds)}, {"time", paced(scenes)}, {"flown by", several(versions)},
	}
	if x := several(logs); x != "" {
		list = append(list, fact{"logs played", x})
	}
	return list
}

// several lists texts, each once, and not all of many.
func several(texts []string) string {
	var list []string
	more := 0
	for _, x := range texts {
		switch {
		case x == "" || slices.Contains(list, x):
		case len(list) == 8:
			more++
		default:
			list = append(list, x)
		}
	}
	if more > 0 {
		list = append(list, "and more")
	}
	return strings.Join(list, "; ")
}

// paced tells whether the runs were in lockstep, and how late those in real time were.
func paced(scenes []Scene) string {
	real, frames, over, latest := 0, 0, 0, -1
	for i := range scenes {
		t := &scenes[i].verdict.Timing
		if !t.RealTime {
			continue
		}
		real, frames, over = real+1, frames+t.Frames, over+t.Over
		if latest < 0 || t.Most > scenes[latest].verdict.Timing.Most {
			latest = i
		}
	}
	if real == 0 {
		return "lockstep: the bench drives each board's clock"
	}
	text := "real time, against each board's own clock"
	if real < len(scenes) {
		text = fmt.Sprintf("real time in %d of %d scenarios, else lockstep", real, len(scenes))
	}
	v := &scenes[latest].verdict
	return fmt.Sprintf("%s; of %d instants %d left later than the limit; the latest in %s: %s", text, frames, over, v.Name, report.Lateness(&v.Timing))
}

// section is a scenario as the page shows it.
func (s *Scene) section(n int, opt report.Options) section {
	v := &s.verdict
	if opt.Repeat == "" {
		opt.Repeat = s.flags()
	}
	x := section{
		N: n, Name: v.Name, Title: v.Title, Story: s.story, Answer: v.Answer.String(), File: v.File, Digest: v.Digest,
		Seed: strconv.FormatUint(v.Seed, 10), Boards: s.boards, Said: s.said, Faults: s.faults, Log: s.log,
		Flights: s.figures(), Repeat: report.Repeat(v, &opt),
	}
	for i := range s.traces {
		x.Spoilt = append(x.Spoilt, s.traced(&s.traces[i]))
	}
	x.Closest = row{Text: "nothing here has a margin"}
	if f, ok := report.Deciding(v); ok {
		x.Closest = rowOf(&f)
	}
	for i, f := range report.Findings(v) {
		if i < s.expects {
			x.Expectations = append(x.Expectations, rowOf(&f))
		} else {
			x.Doubts = append(x.Doubts, rowOf(&f))
		}
	}
	if v.Timing.RealTime {
		x.Lateness, x.By = report.Lateness(&v.Timing), v.Timing.How
		for _, c := range v.Clocks {
			x.Clocks = append(x.Clocks, report.BoardClock(v, &c))
		}
	}
	return x
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
