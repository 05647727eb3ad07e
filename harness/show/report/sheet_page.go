package report

import (
	_ "embed"
	"html/template"
	"io"
	"strings"

	"drystage/harness"
	"drystage/harness/judge/coverage"
	"drystage/harness/judge/ready"
)

//go:embed sheet.html
var sheetPageText string

// sheetPage shows a text of a file or a board as it would stand on a terminal: nothing in it can move or
// hide what stands beside it, and the template makes sure that nothing in it is markup.
var sheetPage = template.Must(template.New("sheet").Funcs(template.FuncMap{
	"plain": Plain, "percent": Percent, "margin": Margin, "pace": paceText, "groups": groupText, "board": boardText, "suite": suiteText, "days": daysText,
	"output": outputText, "counts": countsText, "fired": firedText, "call": callText, "command": commandWords, "made": madeText,
	"files": func(fs []string) string { return strings.Join(fs, " and ") },
	"next":  func(i int) int { return i + 1 },
	"low":   func(share float64) bool { return share < ready.CloseShare },
}).Parse(sheetPageText))

// sheetView is what the page shows.
type sheetView struct {
	*ready.Sheet
	Title, Headline, Digest                                                                  string
	NoPermission, NothingOpen, OpenNote, FieldTitle, FieldNote, DigestNote, Note, FaultsNote string
	Field                                                                                    []string
	Made                                                                                     harness.Maker
	Phases                                                                                   []string
	Faults                                                                                   []faultRow
	Never                                                                                    string
}

// SheetPage writes a readiness sheet as one page of HTML to print on A4: it needs nothing else, no script,
// no font, no picture from elsewhere. opt.Made is what judged the records.
func SheetPage(w io.Writer, s *ready.Sheet, opt Options) error {
	if emptySheet(s) {
		return ErrEmpty
	}
	v := sheetView{
		Sheet: s, Title: vehicleNames(s), Headline: headline(s), Digest: sheetDigest(s), NoPermission: noPermission, NothingOpen: nothingOpen, OpenNote: openNote,
		FieldTitle: fieldTitle, FieldNote: fieldNote, DigestNote: digestNote, Note: outputsNote, Field: ready.Field(), Made: opt.Made,
		Faults: faultRows(&s.Tried, false), FaultsNote: faultsNote, Never: strings.Join(neverTried(&s.Tried), ", "),
	}
	for p := range coverage.Phases {
		v.Phases = append(v.Phases, p.String())
	}
	return sheetPage.Execute(w, &v)
}
