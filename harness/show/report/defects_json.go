package report

import (
	"io"
	"strconv"

	"drystage/harness"
	"drystage/harness/judge/defects"
	"drystage/harness/show/schema"
)

// DefectsJSON writes a matrix of defects as one JSON object (RFC 8259).
func DefectsJSON(w io.Writer, m *defects.Matrix, opt Options) error {
	if len(m.Scenarios) == 0 || len(m.Defects) == 0 {
		return ErrEmpty
	}
	return defectsObject(m, &opt).Write(w)
}

// defectsObject is a matrix of defects. Lists are in the order of the suite and of the board's list.
func defectsObject(m *defects.Matrix, opt *Options) object {
	return object{
		{"answer", answer(m.Verdict()), "fail if a defect slipped through, else unsure if one may have, else pass"},
		{"caught", len(m.WithAnswer(harness.Pass)), "defects that some scenario fails for"},
		{"slipped", len(m.WithAnswer(harness.Fail)), "defects that no scenario notices"},
		{"unsure", len(m.WithAnswer(harness.Unsure)), "defects that may have been noticed"},
		{"defects", list(defectRows(m), defectObject), "each defect"},
		{"scenarios", list(scenarioRows(m), catcherObject), "each scenario"},
		{"greedy_cover", fileNames(m, m.Cover()), "files of a few scenarios that together catch all that is caught"},
		{"not_ours", when(len(opt.Foreign) > 0, opt.Foreign), foreignDoc},
	}
}

// defectRow is a defect with all that the suite says of it.
type defectRow struct {
	defects.Defect
	answer           harness.Answer
	caughtBy, unsure []cellRow
	worst            string
}

// cellRow is what one scenario said of one board.
type cellRow struct {
	file string
	defects.Cell
}

func defectRows(m *defects.Matrix) (rows []defectRow) {
	for d, x := range m.Defects {
		r := defectRow{Defect: x, answer: m.Answer(d), caughtBy: cellRows(m, d, m.CaughtBy(d)), unsure: cellRows(m, d, m.UnsureIn(d))}
		if s, ok := m.Worst(d); ok {
			r.worst = m.Scenarios[s].File
		}
		rows = append(rows, r)
	}
	return rows
}

func cellRows(m *defects.Matrix, d int, scenarios []int) (rows []cellRow) {
	for _, s := range scenarios {
		rows = append(rows, cellRow{m.Scenarios[s].File, m.At(d, s)})
	}
	return rows
}

func defectObject(r *defectRow) object {
	words := map[harness.Answer]string{harness.Pass: "caught", harness.Fail: "slipped", harness.Unsure: "unsure"}
	return object{
		{"name", r.Name, "of the defect, as mock:NAME has it"},
		{"answer", schema.OneOf(words[r.answer], "caught", "slipped", "unsure"), "of the suite"},
		{"accident", r.Accident, "what it leads to"},
		{"hint", r.Hint, "what a scenario has to do to show it"},
		{"caught_by", list(r.caughtBy, cellObject), "scenarios that fail for it"},
		{"unsure_in", list(r.unsure, cellObject), "scenarios that are unsure with it"},
		{"worst", omitZero(r.worst), "file of the scenario that fails for it by the most"},
	}
}

func cellObject(c *cellRow) object {
	f := &c.Finding
	return append(object{
		{"file", c.file, "the scenario"},
		{"flown", c.Flown, "it was flown"},
		{"expectation", f.Text, "what the answer hangs on"},
		{"place", omitZero(f.Place.String()), placeDoc},
		{"reason", f.Reason, "a sentence: what was wanted, what was seen, when"},
	}, marginMembers(f, f.HasMargin)...)
}

// scenarioRow is a scenario with the defects that it catches.
type scenarioRow struct {
	defects.Scenario
	honest         harness.Answer
	why            *cellRow
	catches, alone []string
}

func scenarioRows(m *defects.Matrix) (rows []scenarioRow) {
	for s, x := range m.Scenarios {
		r := scenarioRow{Scenario: x, honest: m.Reference(s).Answer, catches: defectNames(m, m.Catches(s)), alone: defectNames(m, m.Alone(s))}
		if !m.Valid(s) {
			r.why = &cellRow{x.File, m.Reference(s)}
		}
		rows = append(rows, r)
	}
	return rows
}

func catcherObject(r *scenarioRow) object {
	return object{
		{"name", r.Name, "the scenario's file name without folder and ending"},
		{"file", r.File, "the path it was read from"},
		{"seed", strconv.FormatUint(r.Seed, 10), seedDoc},
		{"honest", answer(r.honest), "on the board without a defect"},
		{"why", schema.ObjectIf(r.why, cellObject), "why it does not pass there, so that it proves nothing about defects"},
		{"catches", schema.Texts(r.catches), "names of defects that it fails for"},
		{"alone", schema.Texts(r.alone), "those of them that no other scenario catches"},
	}
}

func defectNames(m *defects.Matrix, list []int) []string {
	names := []string{}
	for _, d := range list {
		names = append(names, m.Defects[d].Name)
	}
	return names
}

func fileNames(m *defects.Matrix, list []int) []string {
	names := []string{}
	for _, s := range list {
		names = append(names, m.Scenarios[s].File)
	}
	return names
}
