package report

import (
	"encoding/json"
	"io"
	"math"
	"strconv"

	"drystage/harness"
	"drystage/harness/judge/hunt"
	"drystage/harness/vary"
)

// huntJSON is a hunt as JSON. Values are in SI, and as text as a scenario has them; flights count from 1.
type huntJSON struct {
	Answer   string       `json:"answer"`
	File     string       `json:"file"`
	Boards   []seatJSON   `json:"boards"`
	Command  string       `json:"command"`
	Flights  int          `json:"flights"`
	Passed   int          `json:"passed"`
	Failed   int          `json:"failed"`
	Unsure   int          `json:"unsure"`
	Extra    int          `json:"flights_to_shrink"`
	Demands  []demandJSON `json:"expectations"` // last, without a place: the run itself
	Seed     string       `json:"seed"`         // as text: it may pass 2^53 (RFC 8259, section 6)
	Case     []huntedJSON `json:"set"`
	Needless []string     `json:"not_needed"`
	Edge     *edgeJSON    `json:"edge,omitempty"`
	Finding  findingJSON  `json:"finding"`
	Scenario string       `json:"scenario"`
}

type demandJSON struct {
	Text   string       `json:"expectation"`
	Place  string       `json:"place,omitempty"`
	Answer string       `json:"answer"`
	Share  *float64     `json:"share,omitempty"`
	Flight int          `json:"flight"`
	Seed   string       `json:"seed"`
	Set    []huntedJSON `json:"set"`
}

type huntedJSON struct {
	Of    string  `json:"of"`
	Value float64 `json:"value"`
	Unit  string  `json:"unit,omitempty"`
	Is    string  `json:"is"`
}

type edgeJSON struct {
	Own    huntedJSON `json:"own"`
	Before huntedJSON `json:"before"`
	After  huntedJSON `json:"after"`
}

// HuntJSON writes a hunt as one JSON object (RFC 8259); file is the text of the scenario that it ended with.
func HuntJSON(w io.Writer, f *hunt.Find, file string, opt Options) error {
	if len(f.Flights) == 0 {
		return ErrEmpty
	}
	t, x := tallied(f), f.Finding()
	out := huntJSON{
		Answer: f.Answer().String(), File: f.Plan.File, Boards: seatsJSON(opt.Seats), Command: f.Command, Flights: len(f.Flights), Passed: t.Pass, Failed: t.Fail, Unsure: t.Unsure, Extra: f.Extra,
		Seed: strconv.FormatUint(f.Case.Seed, 10), Case: hunted(f.Case.Values), Needless: append([]string{}, f.Needless()...), Finding: finding(&x), Scenario: file,
	}
	if e := f.Edge; e.Found {
		h := hunted([]harness.Value{e.Own, e.Before, e.After})
		out.Edge = &edgeJSON{h[0], h[1], h[2]}
	}
	for d := range f.Flights[0].Merits {
		i := hunt.Worst(f.Flights, d)
		m, c := f.Flights[i].Merits[d], f.Space.Case(f.Flights[i].Point)
		j := demandJSON{Text: demand(f, d), Answer: m.Answer.String(), Flight: i + 1, Seed: strconv.FormatUint(c.Seed, 10), Set: hunted(c.Values)}
		if d < len(f.Plan.Expect) {
			j.Place = f.Plan.Expect[d].Place.String()
		}
		if measured(m) {
			j.Share = number(m.Share)
		}
		out.Demands = append(out.Demands, j)
	}
	e := json.NewEncoder(w)
	e.SetIndent("", "  ")
	e.SetEscapeHTML(false)
	return e.Encode(out)
}

// demand is the text of an expectation, or that of the run itself.
func demand(f *hunt.Find, d int) string {
	if d < len(f.Plan.Expect) {
		return f.Plan.Expect[d].Text
	}
	return "the run itself is whole"
}

// measured says that a merit has a share that was measured.
func measured(m hunt.Merit) bool { return m.Answer != harness.Unsure && !math.IsInf(m.Share, 0) }

func hunted(values []harness.Value) []huntedJSON {
	out := []huntedJSON{}
	for _, v := range values {
		out = append(out, huntedJSON{v.Name, v.Value, v.Unit, vary.Text(v)})
	}
	return out
}
