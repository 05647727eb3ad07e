package main

import (
	"fmt"
	"io"

	"github.com/schollz/progressbar/v3"
	"golang.org/x/term"

	"drystage/harness"
)

// progress shows how far a suite is, on a terminal only.
type progress struct {
	bar   *progressbar.ProgressBar
	fails int
}

func newProgress(w io.Writer, n int, quiet bool) *progress {
	f, ok := fileOf(w)
	if quiet || !ok || !term.IsTerminal(int(f.Fd())) {
		return &progress{}
	}
	return &progress{bar: progressbar.NewOptions(n,
		progressbar.OptionSetWriter(f), progressbar.OptionSetWidth(30), progressbar.OptionShowCount(),
		progressbar.OptionSetDescription("flying"), progressbar.OptionClearOnFinish(),
		progressbar.OptionSetTheme(progressbar.Theme{Saucer: "=", SaucerHead: ">", SaucerPadding: " ", BarStart: "[", BarEnd: "]"}))}
}

func (p *progress) step(v harness.Verdict) {
	if v.Answer != harness.Pass {
		p.fails++
	}
	if p.bar == nil {
		return
	}
	p.bar.Describe(fmt.Sprintf("%d not passed", p.fails))
	p.bar.Add(1)
}

func (p *progress) done() {
	if p.bar != nil {
		p.bar.Finish()
	}
}
