package page

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"drystage/harness/show/report"
)

// boardUse is a board in some of the scenarios.
type boardUse struct {
	board
	In int
}

// fact is a label and its text.
type fact struct{ Word, Text string }

// seats lists the boards of all scenarios, each once.
func seats(runs []Summary) (list []boardUse) {
	for i := range runs {
		for _, b := range runs[i].boards {
			at := slices.IndexFunc(list, func(x boardUse) bool { return x.board == b })
			if at < 0 {
				at = len(list)
				list = append(list, boardUse{board: b})
			}
			list[at].In++
		}
	}
	return list
}

// facts lists vehicle, seed, pace and versions of the scenarios, each distinct one once.
func facts(runs []Summary) []fact {
	var vehicles, seeds, versions, logs []string
	for i := range runs {
		s := &runs[i]
		vehicles = append(vehicles, s.vehicle)
		seeds = append(seeds, strconv.FormatUint(s.verdict.Seed, 10))
		versions = append(versions, fmt.Sprintf("drystage %s, %s, %s", s.made.Version, s.made.Go, s.made.Arch))
		logs = append(logs, s.log)
	}
	list := []fact{
		{"vehicle", joinDistinct(vehicles)}, {"seed", joinDistinct(seeds)}, {"time", pacing(runs)}, {"flown by", joinDistinct(versions)},
	}
	if x := joinDistinct(logs); x != "" {
		list = append(list, fact{"logs played", x})
	}
	return list
}

// joinDistinct lists texts, each once, and not all of many.
func joinDistinct(texts []string) string {
	var list []string
	more := false
	for _, x := range texts {
		switch {
		case x == "" || slices.Contains(list, x):
		case len(list) == 8:
			more = true
		default:
			list = append(list, x)
		}
	}
	if more {
		list = append(list, "and more")
	}
	return strings.Join(list, "; ")
}

// pacing tells whether the runs were in lockstep, and how late those in real time were.
func pacing(runs []Summary) string {
	real, frames, over, latest := 0, 0, 0, -1
	for i := range runs {
		t := &runs[i].verdict.Timing
		if !t.RealTime {
			continue
		}
		real, frames, over = real+1, frames+t.Frames, over+t.Over
		if latest < 0 || t.Most > runs[latest].verdict.Timing.Most {
			latest = i
		}
	}
	if real == 0 {
		return "lockstep: the bench drives each board's clock"
	}
	text := "real time, against each board's own clock"
	if real < len(runs) {
		text = fmt.Sprintf("real time in %d of %d scenarios, else lockstep", real, len(runs))
	}
	v := &runs[latest].verdict
	return fmt.Sprintf("%s; of %d instants %d left later than the limit; the latest in %s: %s", text, frames, over, v.Name, report.Lateness(&v.Timing))
}
