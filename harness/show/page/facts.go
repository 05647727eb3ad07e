package page

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"drystage/harness/show/report"
)

// seated is a board in some of the scenarios.
type seated struct {
	board
	In int
}

// fact is a word, and what there is to say on it.
type fact struct{ Word, Text string }

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
