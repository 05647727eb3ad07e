package page

import (
	"fmt"
	"html/template"
	"strconv"
	"strings"

	"drystage/harness"
	"drystage/harness/show/chart"
	"drystage/harness/show/report"
)

// view is what the page shows.
type view struct {
	Style    template.CSS
	Script   template.JS
	Danger   *danger
	Answer   string
	Counts   harness.Count
	Total    int
	Boards   []boardUse
	Facts    []fact
	Sections []section
}

// section is one scenario.
type section struct {
	N                         int
	Name, Title, Story        string
	Answer                    string
	File, Digest, Seed        string
	Closest                   row
	Expectations, Doubts      []row
	Failed                    string // how many expectations, in words
	NotPassed                 []row  // the most dangerous first
	First                     string // what failed first by the clock
	Close                     []figure
	Events, Clock             string
	Flights, Spoilt           []figure
	Later                     bool // the pictures are read when they are looked at
	Reports                   []boardReports
	Faults                    []faultActivity
	Lateness, Log, Repeat, By string
	Clocks, Warned            []string
}

func newView(runs []Summary, opt *report.Options) *view {
	v := &view{Style: chart.Style, Script: template.JS(chart.Script), Total: len(runs), Boards: seats(runs), Facts: facts(runs)}
	var vs []harness.Verdict
	for i := range runs {
		vs = append(vs, runs[i].verdict)
	}
	v.Answer, v.Counts = harness.Worst(vs).String(), harness.Tally(vs)
	order, shown := worstFirst(vs), 0
	v.Danger = mostDangerous(runs, order)
	for n, i := range order {
		x := runs[i].section(n+1, widths(vs[i].Answer, len(runs)), *opt)
		for k := range runs[i].close {
			if shown++; shown <= mostClose {
				x.Close = append(x.Close, runs[i].closeFigure(closeSizes(len(runs)), &runs[i].close[k]))
			}
		}
		v.Sections = append(v.Sections, x)
	}
	return v
}

// widths are those of a scenario's pictures.
func widths(a harness.Answer, runs int) []chart.Size {
	if a == harness.Pass && runs >= many {
		return alone
	}
	return chart.Sizes
}

// mostClose is how many close-ups a page has: where more fails, the worst are worth looking at first.
const mostClose = 60

// closeSizes are the widths of close-ups.
func closeSizes(runs int) []chart.Size {
	if runs >= many {
		return alone
	}
	return chart.Sizes
}

// section is a scenario as the page shows it.
func (s *Summary) section(n int, sizes []chart.Size, opt report.Options) section {
	v := &s.verdict
	if opt.Repeat == "" {
		opt.Repeat = s.repeatFlags()
	}
	x := section{
		N: n, Name: v.Name, Title: v.Title, Story: s.story, Answer: v.Answer.String(), File: v.File, Digest: v.Digest,
		Seed: strconv.FormatUint(v.Seed, 10), Reports: s.reports, Faults: s.faults, Log: s.log,
		Flights: s.figures(sizes), Later: len(sizes) == 1, Repeat: report.Repeat(v, &opt),
	}
	for i := range s.traces {
		x.Spoilt = append(x.Spoilt, s.sensorFigure(sizes, &s.traces[i]))
	}
	x.Events, x.Clock = s.events(), s.clock()
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
	x.Failed, x.First = report.Failed(v), s.firstText("")
	for _, f := range report.NotPassed(v) {
		x.NotPassed = append(x.NotPassed, rowOf(&f))
	}
	for i := range v.Warned {
		x.Warned = append(x.Warned, v.Warned[i].String())
	}
	if v.Timing.RealTime {
		x.Lateness, x.By = report.Lateness(&v.Timing), v.Timing.How
		for _, c := range v.Clocks {
			x.Clocks = append(x.Clocks, report.BoardClock(v, &c))
		}
	}
	return x
}

// events lists the flight's events with their times of the run, for those who can't see the pictures.
func (s *Summary) events() string {
	var list []string
	for _, m := range s.marks {
		list = append(list, fmt.Sprintf("%s %.3f s", m.Name, m.At))
	}
	return strings.Join(list, ", ")
}

// clock says how the two clocks of a scenario differ.
func (s *Summary) clock() string {
	if s.end == 0 {
		return ""
	}
	return fmt.Sprintf("Times are those of the run, in which the launch is at %.3f s; pictures have both clocks.", s.launch)
}
