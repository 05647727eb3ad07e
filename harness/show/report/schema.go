package report

import (
	"drystage/harness"
	"drystage/harness/judge/defects"
	"drystage/harness/judge/hunt"
	"drystage/harness/judge/ready"
	"drystage/harness/show/schema"
)

// Outputs are the commands whose output for other programs has a schema, and what the output tells. `show` and
// `contract` print as `bench` does.
func Outputs() [][2]string {
	return [][2]string{
		{"bench", "verdicts of scenarios; so prints show, and contract of its points"},
		{"sweep", "what many flights that differ say together"},
		{"hunt", "the worst case that a search met"},
		{"defects", "which scenario catches which known defect"},
		{"ready", "a readiness sheet: what records prove, and what is open"},
	}
}

// formatObject gives the shape of what a command prints with --format json.
func formatObject(command string) (o object, ok bool) {
	switch command {
	case "bench", "show", "contract":
		o = suiteObject(nil, &Options{})
	case "sweep":
		o = sweepsObject(nil, &Options{})
	case "hunt":
		o = huntObject(&hunt.Result{Plan: &harness.Plan{}, Space: &hunt.Space{}}, "", &Options{})
	case "defects":
		o = defectsObject(&defects.Matrix{}, &Options{})
	case "ready":
		o = sheetObject(&ready.Sheet{}, &Options{})
	default:
		return nil, false
	}
	return o, true
}

// Schema gives the JSON Schema (draft 2020-12) of what a command prints with --format json; ok is false for one that
// has none.
func Schema(command string) (text []byte, ok bool) {
	o, ok := formatObject(command)
	if !ok {
		return nil, false
	}
	text, err := schema.Text("drystage "+command+" --format json", o)
	return text, err == nil
}
