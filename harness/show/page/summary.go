// Package page writes the evidence of a run as one HTML page: for each scenario what was demanded, what
// happened, and how close it was. It never judges: answers, margins and windows are the verdict's own. The page
// needs nothing from elsewhere, and all text that comes from files and boards stays text. Equal records give
// equal pages.
package page

import (
	"strings"

	"drystage/harness"
	"drystage/harness/judge/verdict"
	"drystage/harness/show/chart"
	"drystage/harness/show/report"
	"drystage/harness/show/trace"
)

// Summary is what the page shows of one run, taken from its record: plain data, and little of it, so that the
// record's memory can serve another run.
type Summary struct {
	verdict harness.Verdict
	expects int // how many of the findings answer an expectation; the rest are about the run itself
	story   string
	vehicle string
	made    harness.Maker
	boards  []board
	log     string // the flight log that was played; empty: none

	// The rest is of pictures, and empty where the record is too malformed for any.
	end     float64 // s
	launch  float64 // s
	ascent  [2]float64
	bodies  []body
	marks   []chart.Mark
	lanes   []lane
	faults  []faultActivity
	reports []boardReports
	traces  []trace.Trace
	close   []closeUp
	first   *first // to fail; nil: none did
}

// board is a flight computer that took part.
type board struct{ Role, Name, Address string }

// Summarize takes from a record and its verdict what the page shows. It keeps nothing of the record's memory.
func Summarize(rec *harness.Record, v harness.Verdict) Summary {
	p := &rec.Plan
	s := Summary{
		verdict: v, expects: min(len(p.Expect), len(v.Findings)), story: strings.TrimSpace(p.Story),
		vehicle: p.Setup.Vehicle.Name, made: rec.Made, log: p.Log.File,
	}
	for i, b := range p.Boards {
		x := board{Role: b.Role}
		if i < len(rec.Health) {
			x.Name = rec.Health[i].Name
		}
		if i < len(rec.Made.Boards) {
			x.Address = rec.Made.Boards[i]
		}
		s.boards = append(s.boards, x)
	}
	sight, ok := verdict.TimelineOf(rec)
	if !ok || rec.Ticks() == 0 {
		return s
	}
	s.end = rec.Times[rec.Ticks()-1].Seconds()
	s.launch = p.Setup.Launch.Seconds()
	s.marks = marks(rec)
	s.ascent = ascent(rec, s.end)
	s.bodies = bodies(rec)
	s.lanes = lanes(rec, &sight, &v)
	s.faults = faultActivities(rec)
	s.reports = reported(rec)
	s.traces = trace.Traces(rec)
	s.close = closeUpsOf(rec, &sight, &v)
	s.first = firstToFail(rec, &sight, &v)
	return s
}

// marks are the flight's events, with names that leave room for a picture.
func marks(rec *harness.Record) []chart.Mark {
	ms := chart.Marks(rec.Events, 0)
	const most = 100 // a made-up record may hold any number
	ms = ms[:min(len(ms), most)]
	for i := range ms {
		ms[i].Name = shorten(report.Plain(ms[i].Name), 24)
	}
	return ms
}

// ascent is the span of the way up, when it is short beside the whole: there the events are close together.
// Else it is empty.
func ascent(rec *harness.Record, end float64) (span [2]float64) {
	launch := rec.Plan.Setup.Launch
	up := chart.Ascent(&rec.Plan.Setup.Vehicle, rec.Events, launch)
	from, until := max(launch.Seconds()-1, 0), launch.Seconds()+up
	if up <= 0 || until > 0.7*end {
		return span
	}
	return [2]float64{from, until}
}

// shorten cuts a text to a number of letters.
func shorten(s string, most int) string {
	letters := []rune(s)
	if len(letters) <= most {
		return s
	}
	return strings.TrimRight(string(letters[:max(most-1, 0)]), " ") + "\u2026"
}

// repeatFlags are the flags that repeat a run, as far as a record has them.
func (s *Summary) repeatFlags() string {
	out, same := "", true
	for _, b := range s.boards {
		same = same && b.Address == s.boards[0].Address
	}
	for i, b := range s.boards {
		switch {
		case b.Address == "" || b.Address == "mock" || same && i > 0:
		case same:
			out += " --board " + report.Quoted(b.Address)
		default:
			out += " --board " + report.Quoted(b.Role+"="+b.Address)
		}
	}
	if s.verdict.Timing.RealTime {
		out += " --real-time"
	}
	return out
}
