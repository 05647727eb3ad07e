package main

import (
	"fmt"
	"io"
	"os"
	"os/signal"
	"strings"
	"sync"
	"time"

	"golang.org/x/term"

	"drystage/harness"
)

// bar is how much of something is done.
type bar struct {
	what      string
	done, all int64
	began     time.Time
}

const (
	barWidth  = 30
	barPeriod = 65 * time.Millisecond
	// barEvery is how often a bar is drawn when nothing happens: its time goes on.
	barEvery = time.Second
	// lineEvery is how often a line tells of progress where there is no terminal.
	lineEvery = time.Minute
)

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
	return fmt.Sprintf("%s %3.0f%% [%-*s] %s", b.what, 100*share, barWidth, full, b.times(now))
}

// times tells how long it has taken and how long it will still take, once there is something to go by.
func (b *bar) times(now time.Time) string {
	took := now.Sub(b.began)
	text := spanText(took)
	if b.done > 0 && b.done < b.all && took >= 2*time.Second {
		left := time.Duration(float64(took) / float64(b.done) * float64(b.all-b.done))
		text += ", about " + spanText(left) + " left"
	}
	return text
}

// spanText writes a span for people who wait.
func spanText(d time.Duration) string {
	s := int(d.Round(time.Second).Seconds())
	switch {
	case s < 60:
		return fmt.Sprintf("%d s", s)
	case s < 3600:
		return fmt.Sprintf("%d min %02d s", s/60, s%60)
	}
	return fmt.Sprintf("%d h %02d min", s/3600, s/60%60)
}

// progress tells how far a command is: by a bar on a terminal, by a line a minute elsewhere, and on request, by a
// signal, in any case.
type progress struct {
	mu       sync.Mutex
	to       io.Writer // nil: nobody reads it
	terminal bool      // a bar is drawn
	lines    bool      // a line a minute is written
	bar      bar
	verb     string // of the line, such as flown
	fails    int
	judged   bool // fails counts
	drawn    time.Time
	stop     chan struct{}
}

// newProgress is for n flights that are judged. Quiet says that only a signal asks.
func newProgress(w io.Writer, n int, quiet bool) *progress {
	p := startProgress(w, int64(n), "flying", "flown", quiet)
	p.judged = true
	return p
}

// startProgress tells of something of which all is to be done; of 0 the end is not known.
func startProgress(w io.Writer, all int64, what, verb string, quiet bool) *progress {
	p := &progress{bar: bar{what: what, all: all, began: time.Now()}, verb: verb, stop: make(chan struct{})}
	if f, ok := fileOf(w); ok {
		p.to, p.terminal = f, !quiet && term.IsTerminal(int(f.Fd()))
		p.lines = !quiet && !p.terminal
		go p.watch()
	}
	return p
}

// watch draws, writes lines and answers signals until all is done.
func (p *progress) watch() {
	asked := make(chan os.Signal, 1)
	if list := askSignals(); len(list) > 0 {
		signal.Notify(asked, list...)
		defer signal.Stop(asked)
	}
	redraw, line := time.NewTicker(barEvery), time.NewTicker(lineEvery)
	defer redraw.Stop()
	defer line.Stop()
	for {
		select {
		case <-p.stop:
			return
		case <-asked:
			p.say()
		case <-redraw.C:
			p.draw(true)
		case <-line.C:
			if p.lines {
				p.say()
			}
		}
	}
}

// step counts a verdict.
func (p *progress) step(v harness.Verdict) {
	p.mu.Lock()
	p.bar.done++
	if v.Answer != harness.Pass {
		p.fails++
	}
	p.bar.what = fmt.Sprintf("%d of %d, %d not passed", p.bar.done, p.bar.all, p.fails)
	p.mu.Unlock()
	p.draw(false)
}

// set says how much is done.
func (p *progress) set(done int64) {
	p.mu.Lock()
	p.bar.done = done
	p.mu.Unlock()
	p.draw(false)
}

// draw draws the bar unless that was just done; again, by the ticker, only if nothing else has drawn it lately.
func (p *progress) draw(again bool) {
	p.mu.Lock()
	defer p.mu.Unlock()
	now := time.Now()
	if !p.terminal || now.Sub(p.drawn) < barPeriod || again && now.Sub(p.drawn) < barEvery/2 {
		return
	}
	p.drawn = now
	if p.bar.all == 0 {
		fmt.Fprintf(p.to, "\r\x1b[K%s %s", p.bar.what, spanText(now.Sub(p.bar.began)))
		return
	}
	fmt.Fprint(p.to, "\r\x1b[K", p.bar.text(now))
}

// say writes a line.
func (p *progress) say() {
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.to == nil {
		return
	}
	clear := ""
	if p.terminal {
		clear = "\r\x1b[K"
	}
	fmt.Fprint(p.to, clear+p.line(time.Now())+"\n")
}

// line tells all in a line; with the lock.
func (p *progress) line(now time.Time) string {
	switch {
	case p.bar.all == 0:
		return fmt.Sprintf("drystage: %s for %s", p.bar.what, spanText(now.Sub(p.bar.began)))
	case p.judged:
		return fmt.Sprintf("drystage: %d of %d %s, %d not passed; %s", p.bar.done, p.bar.all, p.verb, p.fails, p.bar.times(now))
	}
	return fmt.Sprintf("drystage: %.0f %% %s; %s", 100*float64(p.bar.done)/float64(p.bar.all), p.verb, p.bar.times(now))
}

// done ends it and takes the bar away.
func (p *progress) done() {
	p.mu.Lock()
	defer p.mu.Unlock()
	select {
	case <-p.stop:
		return
	default:
		close(p.stop)
	}
	if p.terminal {
		fmt.Fprint(p.to, "\r\x1b[K")
	}
	p.terminal = false
}
