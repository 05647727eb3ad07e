package main

import (
	"bytes"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
)

func TestBarSaysHowMuchIsDone(t *testing.T) {
	began := time.Date(2030, 1, 1, 0, 0, 0, 0, time.UTC)
	for _, c := range []struct {
		reason    string
		done, all int64
		line      string
	}{
		{"nothing yet", 0, 10, "flying   0% [                              ] 12s"},
		{"half of it", 5, 10, "flying  50% [==============>               ] 12s"},
		{"all of it", 10, 10, "flying 100% [==============================] 12s"},
		{"more than was known of", 12, 10, "flying 100% [==============================] 12s"},
		{"nothing to do", 0, 0, "flying   0% [                              ] 12s"},
	} {
		b := bar{what: "flying", done: c.done, all: c.all, began: began}
		assert.Equal(t, c.line, b.text(began.Add(12*time.Second)), c.reason)
	}
	assert.Nil(t, newBar(&bytes.Buffer{}, 1, "flying"), "what is no terminal has no bar")
	var none *bar
	none.set(1)
	none.clear()
}
