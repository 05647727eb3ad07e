package scenario_test

import (
	"testing"
	"testing/fstest"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"drystage/harness"
	"drystage/harness/files/scenario"
)

func TestProject(t *testing.T) {
	tree := goodTree(t)
	p, problems := scenario.LoadProject(tree, "drystage.yaml")
	require.Empty(t, problems)
	at := func(line, column int) harness.Place {
		return harness.Place{File: "drystage.yaml", Line: line, Column: column}
	}
	assert.Len(t, p.Digest, 64)
	digest := p.Digest
	p.Digest = ""
	assert.Equal(t, harness.Project{
		File: "drystage.yaml", Name: "Teal", Scenarios: []string{"full.yaml", "like.yaml"},
		Boards: []harness.ProjectAddress{{Role: "sustainer", Address: "mock:ignores-tilt", Place: at(5, 14)}},
		NMEA:   []harness.ProjectAddress{{Role: "booster", Address: "serial:/dev/ttyUSB1?baud=38400", Place: at(6, 17)}},
		Rig:    "rig.yaml", RigPlace: at(7, 6), Records: "flown", Page: "out/page.html", Jobs: 2,
	}, p)

	replace(t, tree, "rig.yaml", "10 ohm", "12 ohm")
	p, _ = scenario.LoadProject(tree, "drystage.yaml")
	assert.NotEqual(t, digest, p.Digest, "another rig is another bench")

	tree = fstest.MapFS{"a/b/drystage.yaml": {Data: []byte("drystage: project\nrecords: r\n")}}
	p, problems = scenario.LoadProject(tree, "a/b/drystage.yaml")
	require.Empty(t, problems)
	assert.Equal(t, []string{"a/b"}, p.Scenarios, "its folder")
	assert.Equal(t, "a/b/r", p.Records)
}

func TestWrongProjects(t *testing.T) {
	for _, c := range []struct{ reason, name, text, words string }{
		{"a name that is not found", "mine.yaml", "", `mine.yaml:1:11: found a project in a file called "mine.yaml", wanted the name drystage.yaml`},
		{"a key with a typo", "drystage.yaml", "bords: {a: mock}\n", `drystage.yaml:2:1: found unknown key "bords", wanted a key of a project; did you mean "boards"?`},
		{"an unknown address", "drystage.yaml", "boards: {a: seriel:/dev/x}\n", `drystage.yaml:2:13: found "seriel:/dev/x", wanted mock, mock:DEFECT, exec:PROGRAM ARGS, serial:PORT?baud=N, unix:PATH, tcp:HOST:PORT or avr:FIRMWARE.elf?wiring=FILE; did you mean "serial"?`},
		{"a program as an input", "drystage.yaml", "nmea: {a: exec:x}\n", `2:11: found "exec:x", wanted serial:PORT?baud=N, unix:PATH or tcp:HOST:PORT`},
		{"records elsewhere", "drystage.yaml", "records: ../x\n", `2:10: found "../x", wanted a path in this folder or below it`},
		{"records elsewhere by a detour", "drystage.yaml", "records: a/../../x\n", `2:10: found "a/../../x", wanted a path in this folder`},
		{"records anywhere", "drystage.yaml", "records: /etc\n", `2:10: found "/etc", wanted a path in this folder`},
		{"a page that is none", "drystage.yaml", "page: .bashrc\n", `2:7: found ".bashrc", wanted a file .html in this folder`},
		{"no scenario there", "drystage.yaml", "scenarios: [flights]\n", `2:13: found flights: no such file, wanted a scenario's file or a folder of them`},
		{"no rig there", "drystage.yaml", "rig: rig.yaml\n", `2:6: found rig.yaml: no such file`},
		{"no job", "drystage.yaml", "jobs: 0\n", `2:7: found "0", wanted a whole number from 1 to 1024`},
	} {
		tree := fstest.MapFS{c.name: {Data: []byte("drystage: project\n" + c.text)}}
		for _, found := range [][]harness.Problem{scenario.Lint(tree, c.name), func() []harness.Problem { _, ps := scenario.LoadProject(tree, c.name); return ps }()} {
			require.Len(t, found, 1, c.reason)
			assert.Contains(t, found[0].Error(), c.words, c.reason)
		}
	}
}
