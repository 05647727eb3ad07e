package report

import (
	"encoding/json"
	"io"
	"strconv"

	"drystage/harness"
	"drystage/harness/judge/defects"
)

// matrixJSON is a matrix of defects as JSON. Lists are in the order of the suite and of the board's list.
type matrixJSON struct {
	Answer    string        `json:"answer"`
	Caught    int           `json:"caught"`
	Slipped   int           `json:"slipped"`
	Unsure    int           `json:"unsure"`
	Defects   []defectJSON  `json:"defects"`
	Scenarios []catcherJSON `json:"scenarios"`
	Cover     []string      `json:"greedy_cover"` // files
	Foreign   []string      `json:"not_ours,omitempty"`
}

type defectJSON struct {
	Name     string     `json:"name"`
	Answer   string     `json:"answer"` // caught, slipped or unsure
	Accident string     `json:"accident"`
	Hint     string     `json:"hint"`
	CaughtBy []cellJSON `json:"caught_by"`
	UnsureIn []cellJSON `json:"unsure_in"`
	Worst    string     `json:"worst,omitempty"` // file
}

// cellJSON is one flight that did not pass.
type cellJSON struct {
	File   string   `json:"file"`
	Flown  bool     `json:"flown"`
	Text   string   `json:"expectation"`
	Place  string   `json:"place,omitempty"`
	Reason string   `json:"reason"`
	Margin *float64 `json:"margin,omitempty"`
	Unit   string   `json:"unit,omitempty"`
	Share  *float64 `json:"share,omitempty"`
}

type catcherJSON struct {
	Name    string    `json:"name"`
	File    string    `json:"file"`
	Seed    string    `json:"seed"` // as text: it may pass 2^53 (RFC 8259, section 6)
	Honest  string    `json:"honest"`
	Why     *cellJSON `json:"why,omitempty"` // the honest board does not pass
	Catches []string  `json:"catches"`
	Alone   []string  `json:"alone"`
}

// DefectsJSON writes a matrix of defects as one JSON object (RFC 8259).
func DefectsJSON(w io.Writer, m *defects.Matrix, opt Options) error {
	if len(m.Scenarios) == 0 || len(m.Defects) == 0 {
		return ErrEmpty
	}
	out := matrixJSON{
		Foreign: opt.Foreign,
		Answer:  m.Verdict().String(), Caught: len(m.With(harness.Pass)), Slipped: len(m.With(harness.Fail)), Unsure: len(m.With(harness.Unsure)),
		Cover: named(m.Cover(), func(s int) string { return m.Scenarios[s].File }),
	}
	words := map[harness.Answer]string{harness.Pass: "caught", harness.Fail: "slipped", harness.Unsure: "unsure"}
	for d, x := range m.Defects {
		j := defectJSON{
			Name: x.Name, Answer: words[m.Answer(d)], Accident: x.Accident, Hint: x.Hint,
			CaughtBy: named(m.CaughtBy(d), func(s int) cellJSON { return cellOf(m, s, m.At(d, s)) }),
			UnsureIn: named(m.UnsureIn(d), func(s int) cellJSON { return cellOf(m, s, m.At(d, s)) }),
		}
		if s, ok := m.Worst(d); ok {
			j.Worst = m.Scenarios[s].File
		}
		out.Defects = append(out.Defects, j)
	}
	for s, x := range m.Scenarios {
		j := catcherJSON{
			Name: x.Name, File: x.File, Seed: strconv.FormatUint(x.Seed, 10), Honest: m.Honest(s).Answer.String(),
			Catches: named(m.Catches(s), func(d int) string { return m.Defects[d].Name }),
			Alone:   named(m.Alone(s), func(d int) string { return m.Defects[d].Name }),
		}
		if !m.Sound(s) {
			c := cellOf(m, s, m.Honest(s))
			j.Why = &c
		}
		out.Scenarios = append(out.Scenarios, j)
	}
	e := json.NewEncoder(w)
	e.SetIndent("", "  ")
	e.SetEscapeHTML(false)
	return e.Encode(out)
}

func cellOf(m *defects.Matrix, s int, c defects.Cell) cellJSON {
	f := &c.Finding
	j := cellJSON{File: m.Scenarios[s].File, Flown: c.Flown, Text: f.Text, Place: f.Place.String(), Reason: f.Reason}
	if f.HasMargin {
		j.Margin, j.Share, j.Unit = number(f.Margin), number(f.Share), f.Unit
	}
	return j
}

// named turns numbers into what they stand for; none is an empty list, not null.
func named[T any](list []int, of func(int) T) []T {
	out := make([]T, 0, len(list))
	for _, i := range list {
		out = append(out, of(i))
	}
	return out
}
