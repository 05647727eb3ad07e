package report

import (
	"embed"
	"encoding/json"
	"strings"

	"drystage/harness/reference"
	"drystage/harness/show/schema"
)

// samples holds outputs of each command, as a list, for the examples of the reference; a test keeps them true.
//
//go:embed sample
var samples embed.FS

// Reference tells what each output for other programs holds: every key of each JSON output, and the other formats.
func Reference() reference.Page {
	p := reference.Page{Name: "outputs", Tree: true, Doc: "What commands write for other programs and for people."}
	p.Blocks = []reference.Block{
		{Path: "outputs", Doc: p.Doc},
		{Path: "outputs.text", Doc: "For people, in the width of the terminal and in colours unless NO_COLOR is set. It may change with any version."},
		{Path: "outputs.json", Doc: "RFC 8259, one object; `drystage schema bench` (sweep, hunt, defects, ready) prints its JSON Schema. Numbers are in SI unless a key says otherwise."},
		{Path: "outputs.junit", Doc: "XML as servers of continuous integration read it: a test case for each scenario, a failure for a fail, an error for unsure.", Example: "drystage bench --format junit >junit.xml"},
		{Path: "outputs.page", Doc: "One HTML page that needs nothing else, by --html: what was required, what happened, with pictures.", Example: "drystage bench --html page.html"},
		{Path: "outputs.record", Doc: "All that was sent and received in a run, the true state, and the text of the files, by --out; `drystage show` reads it.", Example: "drystage bench --out records"},
		{Path: "outputs.csv", Doc: "A table (RFC 4180) with units in its header: of the true state by `fly --csv`, of what faults did by `show --csv`.", Example: "drystage fly scenarios/vehicles/dunlin.yaml --csv truth.csv"},
	}
	for _, o := range Outputs() {
		text, _ := Schema(o[0])
		var shown []any
		if b, err := samples.ReadFile("sample/" + o[0] + ".json"); err == nil {
			_ = json.Unmarshal(b, &shown) // the test of the samples reads them, too
		}
		if err := schema.Blocks(&p, "outputs."+o[0], strings.ToUpper(o[1][:1])+o[1][1:]+".", text, shown); err != nil {
			panic(err) // Schema has just written it
		}
	}
	schema.Fill(&p)
	for i := range p.Blocks[1:] {
		b := &p.Blocks[i+1]
		if strings.Count(b.Path, ".") == 1 {
			p.Blocks[0].Entries = append(p.Blocks[0].Entries, reference.Entry{Key: strings.TrimPrefix(b.Path, "outputs."), Wants: "a format", Default: reference.None, Doc: b.Doc, Example: b.Example})
		}
	}
	return p
}
