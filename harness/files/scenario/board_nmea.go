package scenario

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"drystage/harness"
)

// instant is a date and a time of day in UTC.
type instant struct{}

const instantForm = "a date and time in UTC as in 2026-06-21T09:30:00Z"

func (instant) schema() map[string]any {
	return pattern(`^[0-9]{4}-[0-9]{2}-[0-9]{2}T[0-9]{2}:[0-9]{2}:[0-9]{2}(\.[0-9]+)?Z$`)
}

func (instant) read(l *loader, n *node) any {
	if !l.isScalar(n, instantForm) {
		return nil
	}
	if _, err := time.Parse(time.RFC3339, n.text); err != nil || !strings.HasSuffix(n.text, "Z") {
		l.report(harness.Problem{Place: n.at, Found: quote(n.text), Wanted: instantForm})
		return nil
	}
	return n.text
}

// nmeaInput reads a board's input for NMEA 0183.
func nmeaInput(o *object) harness.NMEA {
	n := o.get("nmea").object()
	if n == nil {
		return harness.NMEA{}
	}
	out := harness.NMEA{Rate: math.Min(fixRate(o), 10)}
	n.fill(&out)
	return out
}

// fixRate is the rate of a board's receiver in Hz, 0 without one.
func fixRate(o *object) float64 {
	return o.get("sensors").object().get("gnss").object().get("rate").num()
}

// checkNMEA reports what is wrong with a board's input for NMEA 0183.
func (l *loader) checkNMEA(o *object) {
	v := o.get("nmea")
	n := v.object()
	if n == nil {
		return
	}
	has := fixRate(o)
	if r := n.get("rate"); has <= 0 {
		l.report(harness.Problem{Place: v.at, Found: "an input for a receiver that the board lacks", Wanted: "a gnss under `sensors`"})
	} else if r.ok() && r.num() > has {
		l.report(harness.Problem{Place: r.at, Found: fmt.Sprintf("rate %g Hz", r.num()), Wanted: fmt.Sprintf("at most the receiver's, %g Hz", has)})
	}
	var seen []string
	for _, e := range n.get("sentences").list() {
		if e.ok() && slices.Contains(seen, e.text()) {
			l.report(harness.Problem{Place: e.at, Found: e.text() + " again", Wanted: "each sentence once"})
		}
		seen = append(seen, e.text())
	}
	if p, b := nmeaInput(o), n.get("baud"); b.ok() && p.Baud < p.Needs() {
		at := b.at
		if !b.given {
			at = v.at
		}
		l.report(harness.Problem{Place: at, Found: fmt.Sprintf("a line of %d baud", p.Baud), Wanted: fmt.Sprintf("at least %d for these sentences, %g times a second", p.Needs(), p.Rate),
			Hint: "fewer `sentences`, or a lower `rate`"})
	}
}
