package main

import (
	"io"
	"os"

	"golang.org/x/term"

	"drystage/harness"
	"drystage/harness/report"
)

// printVerdicts writes verdicts in the format asked for. Text has colours only on a terminal that
// wants them.
func printVerdicts(d *desk, format string, vs []harness.Verdict, opt report.Options) error {
	switch format {
	case "json":
		return report.JSON(d.out, vs, opt)
	case "junit":
		return report.JUnit(d.out, vs, opt)
	}
	opt.Width, opt.Color = canvas(d.out)
	return report.Terminal(d.out, vs, opt)
}

// canvas gives the width to write to, and whether colours are welcome.
func canvas(w io.Writer) (width int, color bool) {
	f, ok := w.(*os.File)
	if !ok || !term.IsTerminal(int(f.Fd())) {
		return 80, false
	}
	width, _, err := term.GetSize(int(f.Fd()))
	if err != nil {
		width = 80
	}
	return max(width, 60), os.Getenv("NO_COLOR") == "" && os.Getenv("TERM") != "dumb"
}
