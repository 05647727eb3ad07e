package scenario

import (
	"fmt"
	"math"
	"net/url"
	"slices"
	"strconv"
	"strings"
	"time"

	"drystage/harness"
)

// portAddress is the address of a port that sentences go to.
type portAddress struct{}

// portKinds are the kinds of address; a file must not start programs.
var portKinds = [...]string{"serial", "unix", "tcp"}

const portForm = "serial:PORT?baud=N, unix:PATH or tcp:HOST:PORT"

func (portAddress) schema() map[string]any {
	return pattern(`^(` + strings.Join(portKinds[:], "|") + `):\S.*$`)
}

func (portAddress) read(l *loader, n *node) any {
	if !l.isScalar(n, portForm) {
		return nil
	}
	kind, rest, _ := strings.Cut(n.text, ":")
	if !slices.Contains(portKinds[:], kind) || strings.TrimSpace(rest) == "" {
		l.report(harness.Problem{Place: n.at, Found: quote(n.text), Wanted: portForm, Hint: nearest(kind, portKinds[:])})
		return nil
	}
	return n.text
}

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

// spoken reads the port of a board's receiver.
func spoken(o *object) harness.NMEA {
	n := o.get("nmea").object()
	if n == nil || !n.get("port").ok() {
		return harness.NMEA{}
	}
	out := harness.NMEA{Port: n.get("port").text(), Talker: n.get("talker").text(), Start: n.get("start").text(), Place: n.get("port").at}
	out.Rate = math.Min(fixes(o), 10)
	override(&out.Rate, n.get("rate"))
	for _, e := range n.get("sentences").list() {
		out.Sentences = append(out.Sentences, e.text())
	}
	return out
}

// fixes is the rate of a board's receiver in Hz, 0 without one.
func fixes(o *object) float64 {
	return o.get("sensors").object().get("gnss").object().get("rate").num()
}

// speaks reports what is wrong with the port of a board's receiver.
func (l *loader) speaks(o *object) {
	v := o.get("nmea")
	n := v.object()
	if n == nil {
		return
	}
	has := fixes(o)
	if r := n.get("rate"); has <= 0 {
		l.report(harness.Problem{Place: v.at, Found: "a port for a receiver that the board lacks", Wanted: "a gnss under `sensors`"})
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
	if p := spoken(o); p.Port != "" {
		l.fits(n, &p)
	}
}

// fits reports a serial line that is too slow for what is to go out on it.
func (l *loader) fits(n *object, p *harness.NMEA) {
	kind, rest, _ := strings.Cut(p.Port, ":")
	_, query, _ := strings.Cut(rest, "?")
	values, err := url.ParseQuery(query)
	if kind != "serial" || err != nil || !values.Has("baud") {
		return
	}
	baud, err := strconv.Atoi(values.Get("baud"))
	words := len(p.Sentences)
	if words == 0 {
		words = len(harness.Sentences())
	}
	// Ten bits a byte: start, eight, stop.
	if need := int(math.Ceil(float64(10*longestSentence*words) * p.Rate)); err == nil && baud < need {
		l.report(harness.Problem{Place: n.get("port").at, Found: fmt.Sprintf("a line of %d baud", baud), Wanted: fmt.Sprintf("at least %d: %d sentences of up to %d bytes, %g times a second", need, words, longestSentence, p.Rate),
			Hint: "fewer `sentences`, or a lower `rate`"})
	}
}

// alone reports a port that another board's receiver has already.
func (l *loader) alone(p *harness.NMEA, others []harness.Board) {
	for i := range others {
		if p.Port != "" && others[i].NMEA.Port == p.Port {
			l.report(harness.Problem{Place: p.Place, Found: "port " + quote(p.Port), Wanted: "a port for each receiver", Hint: "board " + quote(others[i].Role) + " has it"})
		}
	}
}
