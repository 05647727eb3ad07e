package scenario

import (
	"fmt"
	"io/fs"
	"math"
	"path"
	"regexp"
	"strconv"
	"strings"

	"drystage/harness"
)

// LoadWiring reads a wiring file. Any problem means that there is none; all come at once.
func LoadWiring(fsys fs.FS, name string) (harness.Wiring, []harness.Problem) {
	l := &loader{fsys: fsys}
	w := l.wiring(l.read(path.Clean(name), harness.Place{}))
	if len(l.problems) > 0 {
		return harness.Wiring{}, l.sorted()
	}
	return w, nil
}

// chipPin is a pin of the chip: a port and a bit.
type chipPin struct{}

var chipPinName = regexp.MustCompile(`^P[A-HJ-L][0-7]$`)

func (chipPin) schema() map[string]any { return pattern(chipPinName.String()) }

func (chipPin) read(l *loader, n *node) any {
	if n.kind != scalar || !chipPinName.MatchString(n.text) {
		l.report(harness.Problem{Place: n.at, Found: n.found(), Wanted: "a pin of the chip, such as PA0", Hint: "P, the port's letter, and the bit; the board's own numbers, such as D2, are in its maker's table"})
		return nil
	}
	return strings.TrimPrefix(n.text, "P")
}

// busAddress is an address on I2C, which people write as data sheets do.
type busAddress struct{}

func (busAddress) schema() map[string]any {
	return map[string]any{"anyOf": []any{map[string]any{"type": "integer", "minimum": 8, "maximum": 119}, pattern("^0[xX][0-7][0-9a-fA-F]$")}}
}

func (busAddress) read(l *loader, n *node) any {
	x, err := strconv.ParseUint(n.text, 0, 8)
	if n.kind != scalar || err != nil || x < 8 || x > 119 {
		l.report(harness.Problem{Place: n.at, Found: n.found(), Wanted: "an address on I2C from 0x08 to 0x77", Hint: "seven bits, without the bit for reading"})
		return nil
	}
	return float64(x)
}

// wiring reads a wiring file.
func (l *loader) wiring(f *file) (w harness.Wiring) {
	n := l.ofKind(f, "wiring")
	if n == nil {
		return w
	}
	o, _ := wiringTable.read(l, n).(*object)
	o.fill(&w)
	r := &wires{loader: l, pins: map[string]string{}, addresses: map[float64]string{}, out: &w.Wires}
	for _, e := range o.get("parts").entries() {
		r.part(e)
	}
	r.outputs(o.get("outputs"))
	for _, s := range o.get("switches").objects() {
		r.operated(s)
	}
	for _, s := range o.get("receivers").objects() {
		r.add("receiver %.0f %.0f", s.get("line").num(), s.get("baud").num())
	}
	inputs := map[float64]bool{}
	for _, a := range o.get("analogue").objects() {
		if in := a.get("input"); in.ok() {
			if inputs[in.num()] {
				l.report(harness.Problem{Place: in.at, Found: fmt.Sprintf("input %v again", in.num()), Wanted: "each analogue input once"})
			}
			inputs[in.num()] = true
		}
		r.analogue(a)
	}
	book := l.boardSettings(o)
	for _, s := range l.settings(&book, o.get("settings"), nil) {
		r.add("setting %s %.0f", s.Name, math.Round(s.Value*1000))
	}
	for _, x := range o.get("faults").objects() {
		r.fault(x, o.get("parts").entries())
	}
	return w
}

// wires collects the words for the bridge, and what pins and addresses are used for.
type wires struct {
	*loader
	pins      map[string]string
	addresses map[float64]string
	out       *[]string
}

func (r *wires) add(format string, args ...any) {
	*r.out = append(*r.out, fmt.Sprintf(format, args...))
}

func (r *wires) claim(v value, what string) {
	if !v.ok() {
		return
	}
	if other, taken := r.pins[v.text()]; taken {
		r.report(harness.Problem{Place: v.at, Found: "pin P" + v.text() + " again", Wanted: "each pin once", Hint: "it is " + other + " already"})
	}
	r.pins[v.text()] = what
}

// only reports a key that has no meaning here, and one that is missing.
func (r *wires) only(o *object, why string, needed, without []string) (whole bool) {
	whole = true
	for _, key := range needed {
		if v := o.get(key); !v.given {
			whole = false
			r.report(harness.Problem{Place: o.at, Found: why + " without " + quote(key), Wanted: key + ": its value"})
		} else if !v.ok() {
			whole = false
		}
	}
	for _, key := range without {
		if v := o.get(key); v.given {
			r.report(harness.Problem{Place: v.at, Found: quote(key) + " of " + why, Wanted: why + " without it"})
		}
	}
	return whole
}

func (r *wires) part(e entry) {
	o := e.val.object()
	kind, bus := o.get("part"), o.get("bus")
	if !kind.ok() || !bus.ok() {
		return
	}
	if bus.text() == "spi" {
		if kind.text() == "mpu6050" || kind.text() == "mag3110" {
			r.report(harness.Problem{Place: bus.at, Found: "an " + kind.text() + " on SPI", Wanted: "a part that has SPI", Hint: "it has I2C only"})
		}
		if r.only(o, "a part on SPI", []string{"select"}, []string{"address"}) {
			r.claim(o.get("select"), "the select of "+e.name)
			r.add("part %s %s spi %s", e.name, kind.text(), o.get("select").text())
		}
	} else if r.only(o, "a part on I2C", []string{"address"}, []string{"select"}) {
		a := o.get("address")
		if other, taken := r.addresses[a.num()]; taken {
			r.report(harness.Problem{Place: a.at, Found: fmt.Sprintf("address 0x%02x again", int(a.num())), Wanted: "each address once", Hint: "it is " + other + "'s already"})
		}
		r.addresses[a.num()] = e.name
		r.add("part %s %s twi %.0f", e.name, kind.text(), a.num())
	}
	if pin := o.get("interrupt"); pin.ok() {
		r.claim(pin, "the interrupt of "+e.name)
		r.add("interrupt %s %s", e.name, pin.text())
	}
}

// operated is an input that a command switches, or a wire that breaks.
func (r *wires) operated(s *object) {
	does, pin := s.get("does"), s.get("pin")
	r.claim(pin, "the switch "+does.text())
	switch {
	case !does.ok() || !pin.ok():
	case does.text() != "breakwire":
		r.only(s, "a switch", nil, []string{"channel"})
		r.add("switch %s %s %d", does.text(), pin.text(), level(s))
	case r.only(s, "a breakwire", []string{"channel"}, nil):
		r.add("breakwire %.0f %s %d", s.get("channel").num(), pin.text(), level(s))
	}
}

func level(o *object) int { return levelWord.index(o.get("active")) }

func (r *wires) outputs(list value) {
	channels := map[float64]bool{}
	for _, o := range list.objects() {
		c := o.get("channel")
		if c.ok() && channels[c.num()] {
			r.report(harness.Problem{Place: c.at, Found: fmt.Sprintf("channel %v again", c.num()), Wanted: "each channel once"})
		}
		channels[c.num()] = true
		r.claim(o.get("pin"), fmt.Sprintf("channel %v", c.num()))
		r.add("output %.0f %s %d", c.num(), o.get("pin").text(), level(o))
	}
}

func millivolts(v value) float64 { return math.Round(v.num() * 1000) }

func (r *wires) analogue(o *object) {
	ofCircuit := []string{"channel", "good", "open", "shorted"}
	switch {
	case !o.get("input").ok() || !o.get("reads").ok():
	case o.get("reads").text() == "battery":
		if r.only(o, "a battery's input", []string{"share"}, ofCircuit) {
			r.add("battery %.0f %.0f", o.get("input").num(), o.get("share").num()*1000)
		}
	case r.only(o, "a circuit's input", ofCircuit, []string{"share"}):
		r.add("circuit %.0f %.0f %.0f %.0f %.0f", o.get("input").num(), o.get("channel").num(), millivolts(o.get("good")), millivolts(o.get("open")), millivolts(o.get("shorted")))
	}
}

func (r *wires) fault(o *object, parts []entry) {
	part, from, to := o.get("part"), o.get("from"), o.get("to")
	if part.ok() {
		var names []string
		known := false
		for _, p := range parts {
			names = append(names, p.name)
			known = known || p.name == part.text()
		}
		if !known {
			r.report(harness.Problem{Place: part.at, Found: "part " + quote(part.text()), Wanted: "one of the parts: " + choices(names), Hint: nearest(part.text(), names)})
		}
	}
	if from.ok() && to.ok() && to.time() <= from.time() {
		r.report(harness.Problem{Place: to.at, Found: "a fault that ends before it begins", Wanted: "to later than from"})
	}
	r.add("fault %s %s %d %d %.0f", part.text(), o.get("fault").text(), from.time()/1e6, to.time()/1e6, o.get("value").num())
}
