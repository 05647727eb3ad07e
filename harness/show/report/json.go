package report

import (
	"encoding/json"
	"io"
	"math"
	"strconv"
	"time"

	"drystage/harness"
)

// document is a report as JSON: all that differs between two equal runs stands in Run.
type document struct {
	Run   *runJSON  `json:"run,omitempty"`
	Suite suiteJSON `json:"suite"`
}

type runJSON struct {
	Began   string   `json:"began"`
	Seconds float64  `json:"seconds"`
	Host    string   `json:"host"`
	Version string   `json:"version"`
	Go      string   `json:"go"`
	Arch    string   `json:"arch"`
	Boards  []string `json:"boards,omitempty"`
}

type suiteJSON struct {
	Answer    string         `json:"answer"`
	Passed    int            `json:"passed"`
	Failed    int            `json:"failed"`
	Unsure    int            `json:"unsure"`
	Boards    []seatJSON     `json:"boards"`              // each role with each of its addresses
	NotFlown  int            `json:"not_flown,omitempty"` // of unsure
	Scenarios []scenarioJSON `json:"scenarios"`
	Foreign   []string       `json:"not_ours,omitempty"` // files below the folders that are none of drystage's
}

type scenarioJSON struct {
	Name     string        `json:"name"`
	Title    string        `json:"title"`
	File     string        `json:"file"`
	Digest   string        `json:"digest"`
	Seed     string        `json:"seed"` // as text: it may pass 2^53 (RFC 8259, section 6)
	Answer   string        `json:"answer"`
	NotFlown string        `json:"not_flown,omitempty"` // why
	Findings []findingJSON `json:"findings"`
	Boards   []healthJSON  `json:"boards"`
	Seats    []seatJSON    `json:"seats"`
	Warned   []warnedJSON  `json:"warnings,omitempty"`
	Timing   *timingJSON   `json:"timing,omitempty"`
}

// warnedJSON is a warning of the flight.
type warnedJSON struct {
	Kind     string `json:"kind"`
	Text     string `json:"text,omitempty"`
	Outside  bool   `json:"outside_the_model"`
	Accepted bool   `json:"accepted"`
	Missing  bool   `json:"never_came,omitempty"`
}

// timingJSON is of a real-time run; times are in seconds.
type timingJSON struct {
	How    string      `json:"how"`
	Frames int         `json:"instants"`
	Limit  float64     `json:"late_limit_s"`
	P50    float64     `json:"late_p50_s"`
	P99    float64     `json:"late_p99_s"`
	P999   float64     `json:"late_p999_s"`
	Most   float64     `json:"late_most_s"`
	Over   int         `json:"over_limit"`
	Clocks []clockJSON `json:"clocks"`
}

type clockJSON struct {
	Board    int     `json:"board"`
	Life     int     `json:"life"`
	Readings int     `json:"readings"`
	Used     int     `json:"used"`
	Delay    float64 `json:"shortest_delay_s"`
	Offset   float64 `json:"offset_s"`
	Drift    float64 `json:"drift"`
	Within   float64 `json:"within_s"`
	Trouble  string  `json:"trouble,omitempty"`
}

type findingJSON struct {
	Text   string   `json:"expectation"`
	Place  string   `json:"place,omitempty"`
	Answer string   `json:"answer"`
	Wanted string   `json:"wanted,omitempty"`
	Seen   string   `json:"seen,omitempty"`
	Reason string   `json:"reason"`
	Margin *float64 `json:"margin,omitempty"`
	Unit   string   `json:"unit,omitempty"`
	Share  *float64 `json:"share,omitempty"`
}

type healthJSON struct {
	Name       string `json:"name"`
	Boots      int    `json:"boots"`
	Unasked    int    `json:"unasked_restarts"`
	Bad        int    `json:"corrupt_from_board"`
	Lost       int    `json:"lost_from_board"`
	BoardBad   int    `json:"corrupt_to_board"`
	BoardLost  int    `json:"lost_to_board"`
	Unarmed    int    `json:"edges_while_not_armed"`
	RoundTrips int    `json:"round_trips"`
	SelfArmed  int    `json:"armed_unbidden,omitempty"` // answers

	Answers    *answersJSON `json:"answers,omitempty"`
	Missing    int          `json:"questions_without_answer"`
	ExitStatus int          `json:"exit_status"`
	Signal     string       `json:"ended_by_signal,omitempty"`
	Forced     string       `json:"told_to_end_by_signal,omitempty"`
}

// answersJSON is of a board with a processor or a process of its own; times are in seconds.
type answersJSON struct {
	Limit   float64 `json:"limit_s"`
	Slowest float64 `json:"slowest_s"`
	At      float64 `json:"slowest_at_s"`
	Bench   float64 `json:"added_by_bench_at_most_s"`
	Over    int     `json:"over_limit"`
}

// JSON writes the verdicts as one JSON object (RFC 8259).
func JSON(w io.Writer, vs []harness.Verdict, opt Options) error {
	if len(vs) == 0 {
		return ErrEmpty
	}
	t := harness.Tally(vs)
	d := document{Suite: suiteJSON{Boards: seatsJSON(seats(vs)), Foreign: opt.Foreign, Answer: harness.Worst(vs).String(), Passed: t.Pass, Failed: t.Fail, Unsure: t.Unsure, NotFlown: harness.NotFlown(vs)}}
	if !opt.Began.IsZero() {
		d.Run = &runJSON{
			opt.Began.UTC().Format(time.RFC3339), math.Round(opt.Took.Seconds()*1e3) / 1e3,
			opt.Host, opt.Made.Version, opt.Made.Go, opt.Made.Arch, opt.Made.Boards,
		}
	}
	for i := range vs {
		d.Suite.Scenarios = append(d.Suite.Scenarios, scenario(&vs[i]))
	}
	e := json.NewEncoder(w)
	e.SetIndent("", "  ")
	e.SetEscapeHTML(false)
	return e.Encode(d)
}

func scenario(v *harness.Verdict) scenarioJSON {
	s := scenarioJSON{
		Name: v.Name, Title: v.Title, File: v.File, Digest: v.Digest, Seed: strconv.FormatUint(v.Seed, 10),
		Answer: v.Answer.String(), NotFlown: v.NotFlown, Findings: []findingJSON{}, Boards: []healthJSON{}, Seats: seatsJSON(v.Seats),
	}
	for _, f := range Findings(v) {
		s.Findings = append(s.Findings, finding(&f))
	}
	for _, h := range v.Boards {
		s.Boards = append(s.Boards, healthJSON{h.Name, h.Boots, h.Unasked, h.Bad, h.Lost, h.BoardBad, h.BoardLost, h.Unarmed, h.RoundTrips, h.SelfArmed,
			answers(&h.Answers), h.Answers.Missing, h.End.Status, h.End.Signal, h.End.Forced})
	}
	for _, w := range v.Warned {
		s.Warned = append(s.Warned, warnedJSON(w))
	}
	if t := &v.Timing; t.RealTime {
		s.Timing = &timingJSON{t.How, t.Frames, t.Limit.Seconds(), t.P50.Seconds(), t.P99.Seconds(), t.P999.Seconds(), t.Most.Seconds(), t.Over, []clockJSON{}}
		for _, c := range v.Clocks {
			s.Timing.Clocks = append(s.Timing.Clocks, clockJSON{c.Bay + 1, c.Life, c.Readings, c.Used, c.Delay.Seconds(), c.Offset.Seconds(), c.Drift, c.Within.Seconds(), c.Trouble})
		}
	}
	return s
}

// answers is nil where nothing was measured.
func answers(a *harness.Answers) *answersJSON {
	if a.Limit == 0 {
		return nil
	}
	return &answersJSON{a.Limit.Seconds(), a.Slowest.Seconds(), a.At.Seconds(), a.Bench.Seconds(), a.Over}
}

func finding(f *harness.Finding) findingJSON {
	j := findingJSON{
		Text: f.Text, Place: f.Place.String(), Answer: f.Answer.String(), Wanted: f.Wanted, Seen: f.Seen, Reason: f.Reason,
	}
	if f.HasMargin {
		j.Margin, j.Share, j.Unit = number(f.Margin), number(f.Share), f.Unit
	}
	return j
}

// number rounds to six decimals; what JSON has no word for (infinity, NaN) is left out.
func number(x float64) *float64 {
	if math.IsInf(x, 0) || math.IsNaN(x) {
		return nil
	}
	x = round(x, 6)
	return &x
}
