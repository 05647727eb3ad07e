package main

import (
	"fmt"
	"io"
	"strings"
	"time"

	"golang.org/x/term"

	"drystage/harness"
)

// bar shows on a terminal how much of something is done. A nil bar shows nothing.
type bar struct {
	w          io.Writer
	what       string
	done, all  int64
	began, due time.Time // when it is drawn next
}

const (
	barWidth  = 30
	barPeriod = 65 * time.Millisecond
)

// newBar gives the bar of a terminal, nil for what is none.
func newBar(w io.Writer, all int64, what string) *bar {
	f, ok := fileOf(w)
	if !ok || !term.IsTerminal(int(f.Fd())) {
		return nil
	}
	return &bar{w: f, what: what, all: all, began: time.Now()}
}

// set says how much is done.
func (b *bar) set(done int64) {
	if b == nil {
		return
	}
	b.done = done
	if now := time.Now(); !now.Before(b.due) {
		b.due = now.Add(barPeriod)
		fmt.Fprint(b.w, "\r\x1b[K", b.text(now))
	}
}

// text is the bar as a line.
func (b *bar) text(now time.Time) string {
	share := 0.0
	if b.all > 0 {
		share = min(float64(b.done)/float64(b.all), 1)
	}
	full := strings.Repeat("=", int(share*barWidth))
	if n := len(full); n > 0 && n < barWidth {
		full = full[:n-1] + ">"
	}
	return fmt.Sprintf("%s %3.0f%% [%-*s] %s", b.what, 100*share, barWidth, full, now.Sub(b.began).Round(time.Second))
}

// clear takes the bar away.
func (b *bar) clear() {
	if b != nil {
		fmt.Fprint(b.w, "\r\x1b[K")
	}
}

// progress shows a progress bar, on a terminal only.
type progress struct {
	bar   *bar
	fails int
	n     int
}

func newProgress(w io.Writer, n int, quiet bool) *progress {
	if quiet {
		return &progress{}
	}
	return &progress{bar: newBar(w, int64(n), "flying"), n: n}
}

func (p *progress) step(v harness.Verdict) {
	if v.Answer != harness.Pass {
		p.fails++
	}
	if p.bar == nil {
		return
	}
	p.bar.what = fmt.Sprintf("%d of %d, %d not passed", p.bar.done+1, p.n, p.fails)
	p.bar.set(p.bar.done + 1)
}

func (p *progress) done() { p.bar.clear() }
