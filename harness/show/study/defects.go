package study

import (
	"fmt"
	"html/template"
	"io"

	"drystage/harness/judge/defects"
	"drystage/harness/show/chart"
	"drystage/harness/show/report"
)

type defectsView struct {
	head
	Counts    string
	Matrix    template.HTML
	Legend    []key
	Defects   []defectRow
	Scenarios []scenarioRow
	Cover     []string
	Invalid   []string
}

// defectRow is one defect and what becomes of it.
type defectRow struct {
	Name, Accident, Answer, Hint string
	By                           []string
}

// scenarioRow is one scenario and what it is good for.
type scenarioRow struct {
	N              int
	Name           string
	Catches, Alone int
}

// answerWords say what an answer of the matrix means.
var answerWords = map[string]string{"pass": "caught", "fail": "missed", "unsure": "unsure"}

// Defects writes the page of a suite that was tried on known defects: which scenario catches which.
func Defects(w io.Writer, m *defects.Matrix) error {
	if len(m.Scenarios) == 0 || len(m.Defects) == 0 {
		return report.ErrEmpty
	}
	v := defectsView{head: newHead(m.Verdict(), "Which scenario catches which defect", nil), Matrix: matrix(m),
		Legend: []key{{"caught", "fails: the defect is caught"}, {"unsure", "unsure"}, {"passed", "passes: the defect isn't seen"}}}
	caught := 0
	for d := range m.Defects {
		r := defectRow{Name: m.Defects[d].Name, Accident: m.Defects[d].Accident, Answer: m.Answer(d).String()}
		for _, s := range m.CaughtBy(d) {
			r.By = append(r.By, m.Scenarios[s].Name)
		}
		if len(r.By) > 0 {
			caught++
		} else {
			r.Hint = m.Defects[d].Hint
		}
		v.Defects = append(v.Defects, r)
	}
	v.Counts = fmt.Sprintf("%d of %s caught by %s", caught, plural(len(m.Defects), "defect"), plural(len(m.Scenarios), "scenario"))
	for s := range m.Scenarios {
		v.Scenarios = append(v.Scenarios, scenarioRow{s + 1, m.Scenarios[s].Name, len(m.Catches(s)), len(m.Alone(s))})
	}
	for _, s := range m.Cover() {
		v.Cover = append(v.Cover, m.Scenarios[s].Name)
	}
	for _, s := range m.Invalid() {
		v.Invalid = append(v.Invalid, m.Scenarios[s].Name)
	}
	return write(w, "defects", &v)
}

// Word says what became of a defect.
func (r defectRow) Word() string { return answerWords[r.Answer] }

// matrix draws a row a defect and a column a scenario.
func matrix(m *defects.Matrix) template.HTML {
	const width, left, top, row = 960.0, 210.0, 18.0, 15.0
	c := chart.New(width, top+row*float64(len(m.Defects))+8, 0, 1)
	step := min((width-left-8)/float64(len(m.Scenarios)), 26)
	for s := 0; s < len(m.Scenarios); s++ {
		if every := max(1, int(26/step)); s == 0 || (s+1)%every == 0 {
			c.Text("tick mid", left+step*(float64(s)+0.5), 12, "start", fmt.Sprint(s+1))
		}
	}
	for d := range m.Defects {
		y := top + row*float64(d)
		c.Text("state end", left-8, y+11, "start", report.Plain(m.Defects[d].Name))
		c.Shape("grid", fmt.Sprintf("M%.1f %.1fH%.1f", left, y+row, left+step*float64(len(m.Scenarios))))
		for s := range m.Scenarios {
			x := m.At(d, s)
			class := map[string]string{"fail": "cell caught", "unsure": "cell unsure"}[x.Answer.String()]
			if class == "" || !x.Flown {
				continue
			}
			text := fmt.Sprintf("%s: %s", m.Scenarios[s].Name, x.Answer)
			if x.Finding.Text != "" {
				text += ": " + x.Finding.Text
			}
			c.Bar(class, left+step*float64(s)+0.5, y+1.5, step-1, row-3, report.Plain(text))
		}
	}
	return template.HTML(c.SVG("broad alone", "matrix of defects in rows and scenarios in columns; the table below has the same in words")) // a chart makes no text markup
}
