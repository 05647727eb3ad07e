package conformance

import (
	"bufio"
	"fmt"
	"io"
	"strings"
	"unicode"
)

// TextOptions say how a report is written.
type TextOptions struct {
	Width int  // columns; 0: 80
	Brief bool // passes take one line each
	Color bool
}

var colors = map[Outcome]string{Pass: "32", Fail: "1;31", Unsure: "33", NotClaimed: "36"}

// Text writes a report for people: each point with its outcome, what was sent, what came, what the contract says, and
// why. A board's text can't move the cursor.
func Text(w io.Writer, r *Report, opt TextOptions) error {
	b := bufio.NewWriter(w)
	if opt.Width <= 0 {
		opt.Width = 80
	}
	fmt.Fprintf(b, "%s\n\n", strings.Join(wrap(r.title(), opt.Width), "\n"))
	for i := 0; i < len(r.Points); i++ {
		p := &r.Points[i]
		if n := countUntried(r.Points[i:]); opt.Brief && n > 1 {
			p = &Point{Outcome: p.Outcome, Sent: nothing, Why: p.Why, Name: fmt.Sprintf("%d more points, from %q to %q", n, p.Name, r.Points[i+n-1].Name)}
			i += n - 1
		}
		word := fmt.Sprintf("%-12s", p.Outcome)
		if opt.Color {
			word = "\x1b[" + colors[p.Outcome] + "m" + word + "\x1b[0m"
		}
		item(b, word, p.Name, opt.Width)
		if opt.Brief && p.Outcome == Pass {
			continue
		}
		for _, l := range [...][2]string{{"sent", p.Sent}, {"came", p.Came}, {"contract", p.says()}, {"why", p.Why}} {
			if p.Sent != nothing || l[0] == "why" {
				item(b, fmt.Sprintf("  %-10s", l[0]), l[1], opt.Width)
			}
		}
	}
	fmt.Fprintf(b, "\n%d points: %d pass, %d fail, %d unsure, %d not claimed\n", len(r.Points), r.Count(Pass), r.Count(Fail), r.Count(Unsure), r.Count(NotClaimed))
	if first := r.first(Fail); first != nil {
		item(b, "look first  ", "at "+first.Name, opt.Width)
	}
	if t := r.Latency; t.Ticks > 0 {
		fmt.Fprintf(b, "response to TICK, line and all: %s in the median, %s at most, of %d\n", round(t.Median), round(t.Greatest), t.Ticks)
	}
	if r.Greeted {
		for _, line := range wrap("line use at "+r.LineUse(), opt.Width) {
			fmt.Fprintln(b, line)
		}
	}
	return b.Flush()
}

// countUntried counts the points at the beginning that were not tried for the same reason.
func countUntried(points []Point) (n int) {
	for n < len(points) && points[n].Sent == nothing && points[n].Outcome == Unsure && points[n].Why == points[0].Why {
		n++
	}
	return n
}

// nothing is what was sent and received in a point that was not tried.
const nothing = "nothing"

// leadWidth is the width of the first column.
const leadWidth = 12

func item(w io.Writer, lead, text string, width int) {
	for _, line := range wrap(text, width-leadWidth) {
		fmt.Fprintf(w, "%s%s\n", lead, line)
		lead = strings.Repeat(" ", leadWidth)
	}
}

// wrap breaks a text into lines of at most n columns of printable characters.
func wrap(text string, n int) (lines []string) {
	n = max(n, 10)
	line := ""
	for _, word := range strings.Fields(plain(text)) {
		if line != "" && len([]rune(line))+1+len([]rune(word)) > n {
			lines, line = append(lines, line), ""
		}
		if line != "" {
			line += " "
		}
		line += word
		for r := []rune(line); len(r) > n; r = []rune(line) {
			lines, line = append(lines, string(r[:n])), string(r[n:])
		}
	}
	return append(lines, line)
}

func plain(text string) string {
	return strings.Map(func(c rune) rune {
		switch {
		case unicode.IsSpace(c):
			return ' '
		case !unicode.IsPrint(c):
			return '?'
		}
		return c
	}, strings.ToValidUTF8(text, "?"))
}
