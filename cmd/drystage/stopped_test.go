package main

import (
	"bytes"
	"context"
	"encoding/json"
	"encoding/xml"
	"net"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"drystage/harness/board/mock"
)

// stopAt serves the built-in board, with or without a defect, and calls stop when it is opened for the n-th time,
// which it then leaves without an answer.
func stopAt(t *testing.T, n int, defect string, stop func()) (address string) {
	name := filepath.Join(t.TempDir(), "board")
	l, err := net.Listen("unix", name)
	require.NoError(t, err)
	t.Cleanup(func() { l.Close() })
	go func() {
		for i := 1; ; i++ {
			c, err := l.Accept()
			if err != nil {
				return
			}
			if i == n {
				stop()
				continue
			}
			go func() {
				defer c.Close()
				_ = mock.Serve(c, defect)
			}()
		}
	}()
	return "sustainer=unix:" + name
}

// What a run was stopped before stands as not flown, in every format, and a failure that came before the stop
// stays one.
func TestARunThatWasStoppedNeverLooksWhole(t *testing.T) {
	shortSuite(t)
	require.NoError(t, os.Mkdir("suite", 0o755))
	for _, name := range []string{"a", "b", "c", "d", "e"} {
		text := strings.Replace(shortScenario, "like: ", "like: ../", 1)
		require.NoError(t, os.WriteFile("suite/"+name+".yaml", []byte(text), 0o644))
	}
	tilt := strings.Replace(shortScenario, "never: sustainer.main", "fires: sustainer.main, from: 0 s, to: 1 s", 1)
	require.NoError(t, os.WriteFile("fails.yaml", []byte(tilt), 0o644))
	for _, c := range []struct {
		reason, args string
		code         int
		want         []string
	}{
		{"a suite as text", "bench suite", unsure, []string{`(?m)^a +pass`, `(?m)^c +unsure .*not flown`, `5 scenarios: 2 passed, 0 failed, 3 unsure; 3 of them not flown`}},
		{"after a failure", "bench fails.yaml suite", failed, []string{`(?m)^fails +fail`, `6 scenarios: 1 passed, 1 failed, 4 unsure; 4 of them not flown`}},
		{"in JSON", "bench suite --format json", unsure, []string{`"answer": "unsure",\s+"passed": 2,\s+"failed": 0,\s+"unsure": 3`, `"not_flown": 3`, `"not_flown": "interrupted after 2 of 5 scenarios"`}},
		{"in JUnit", "bench suite --format junit", unsure, []string{`name="not_flown" value="interrupted after 2 of 5`, `errors="[1-9]`}},
		{"as a page", "bench suite --html page.html", unsure, []string{`page: page.html`}},
		{"round after round", "bench suite --repeat 3", unsure, []string{`(?m)^a +1 +1 +0 +0$`, `(?m)^e +0 +0 +0 +0$`, `2 of 15 flights in 1 round: no trouble of any kind; 13 not flown`}},
		{"round after round, after a failure", "bench fails.yaml suite --repeat 3", failed, []string{`2 of 18 flights in 1 round: 1 kind of trouble; 16 not flown`}},
		{"a sweep", "sweep short.yaml --flights 7", unsure, []string{`2 of 7 flights of short.yaml`, `UNSURE 2 of 7 flights: 2 passed, 0 failed, 0 unsure; 5 not flown`}},
		{"a sweep, after a failure", "sweep fails.yaml --flights 7", failed, []string{`FAIL 2 of 7 flights: 0 passed, 2 failed, 0 unsure; 5 not flown`}},
		{"the second of three sweeps", "sweep suite/a.yaml suite/b.yaml suite/c.yaml --flights 1", unsure, []string{`UNSURE 0 of 1 flight: 0 passed, 0 failed, 0 unsure; 1 not flown`}},
		{"a sweep in JSON", "sweep suite/a.yaml suite/b.yaml suite/c.yaml --flights 1 --format json", unsure, []string{`"answer": "unsure",\s+"flights": 0`, `"not_flown": 1`}},
		{"one flight of each sweep", "sweep suite/a.yaml suite/b.yaml suite/c.yaml --only 1", unsure, []string{`not flown: interrupted after 2 of 3 flights`}},
		{"a hunt", "hunt short.yaml", unsure, nil},
		{"a hunt, after a failure", "hunt fails.yaml", failed, nil},
	} {
		t.Run(c.reason, func(t *testing.T) {
			ctx, stop := context.WithCancel(t.Context())
			defer stop()
			args := append(strings.Fields(c.args), "-q", "--jobs", "1", "--inert", "--board", stopAt(t, 3, "", stop), "--timeout", "30s", "--answer-limit", "30s")
			var out, words bytes.Buffer
			code := execute(args, &console{ctx: ctx, in: strings.NewReader(""), out: &out, err: &words})
			assert.Equal(t, c.code, code, words.String())
			assert.Contains(t, words.String(), "interrupted")
			for _, want := range c.want {
				assert.Regexp(t, want, out.String())
			}
			if !strings.Contains(c.args, "suite/") { // where the first two sweeps are whole
				assert.NotContains(t, out.String(), "PASS")
			}
			if strings.Contains(c.args, "json") {
				assert.True(t, json.Valid(out.Bytes()))
			}
			if strings.Contains(c.args, "junit") {
				junitAgrees(t, out.Bytes())
			}
			if strings.Contains(c.args, "page") {
				page, err := os.ReadFile("page.html")
				require.NoError(t, err)
				assert.Contains(t, string(page), "not flown: interrupted after 2 of 5 scenarios")
			}
			if c.want == nil {
				assert.Equal(t, c.code == failed, strings.Contains(words.String(), "at least one failed: sustainer.main"), words.String())
			}
		})
	}
}

// junitAgrees wants two suites without and three with errors.
func junitAgrees(t *testing.T, text []byte) {
	var doc struct {
		Suites []struct {
			Tests  int `xml:"tests,attr"`
			Errors int `xml:"errors,attr"`
		} `xml:"testsuite"`
	}
	require.NoError(t, xml.Unmarshal(text, &doc))
	require.Len(t, doc.Suites, 5)
	for i, s := range doc.Suites {
		assert.Equal(t, i < 2, s.Errors == 0, "suite %d", i)
		assert.Positive(t, s.Tests)
	}
}
