package main

import (
	"bytes"
	"os"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"drystage/harness"
)

func TestBarSaysHowMuchIsDone(t *testing.T) {
	began := time.Date(2030, 1, 1, 0, 0, 0, 0, time.UTC)
	for _, c := range []struct {
		reason    string
		done, all int64
		took      time.Duration
		line      string
	}{
		{"nothing yet", 0, 10, 12 * time.Second, "flying   0% [                              ] 12 s"},
		{"half of it", 5, 10, 12 * time.Second, "flying  50% [==============>               ] 12 s, about 12 s left"},
		{"at once", 5, 10, time.Second, "flying  50% [==============>               ] 1 s"},
		{"a tenth of a long one", 1, 10, 100 * time.Second, "flying  10% [==>                           ] 1 min 40 s, about 15 min 00 s left"},
		{"hours", 1, 100, 100 * time.Second, "flying   1% [                              ] 1 min 40 s, about 2 h 45 min left"},
		{"all of it", 10, 10, 12 * time.Second, "flying 100% [==============================] 12 s"},
		{"more than was known of", 12, 10, 12 * time.Second, "flying 100% [==============================] 12 s"},
		{"nothing to do", 0, 0, 12 * time.Second, "flying   0% [                              ] 12 s"},
	} {
		b := bar{what: "flying", done: c.done, all: c.all, began: began}
		assert.Equal(t, c.line, b.text(began.Add(c.took)), c.reason)
	}
}

func TestProgressTellsInALine(t *testing.T) {
	var none bytes.Buffer
	p := newProgress(&none, 4, false)
	p.step(harness.Verdict{Answer: harness.Pass})
	p.step(harness.Verdict{Answer: harness.Fail})
	assert.Equal(t, "drystage: 2 of 4 flown, 1 not passed; 10 s, about 10 s left", p.line(p.bar.began.Add(10*time.Second)))
	p.say()
	p.done()
	p.done()
	assert.Empty(t, none.String(), "what is no file is told nothing")

	p = startProgress(&none, 200, "reading", "read", true)
	p.set(50)
	assert.Equal(t, "drystage: 25 % read; 1 s", p.line(p.bar.began.Add(time.Second)))
	p.done()
	p = startProgress(&none, 0, "examining", "", true)
	assert.Equal(t, "drystage: examining for 1 s", p.line(p.bar.began.Add(time.Second)))
	p.done()
}

// No bar is drawn into a file, and nothing is written after the end.
func TestProgressIntoAFile(t *testing.T) {
	name := t.TempDir() + "/err"
	f, err := os.Create(name)
	require.NoError(t, err)
	p := newProgress(f, 2, false)
	p.step(harness.Verdict{Answer: harness.Pass})
	p.say()
	p.step(harness.Verdict{Answer: harness.Pass})
	p.done()
	require.NoError(t, f.Close())
	text, err := os.ReadFile(name)
	require.NoError(t, err)
	assert.True(t, strings.HasPrefix(string(text), "drystage: 1 of 2 flown, 0 not passed; 0 s\n"), "%q", text)
	assert.NotContains(t, string(text), "\x1b")
}
