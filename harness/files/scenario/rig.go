package scenario

import (
	"fmt"
	"io/fs"
	"path"
	"regexp"
	"strings"

	"drystage/harness"
	"drystage/sim/quantity"
)

// LoadRig reads a rig file. Any problem means that there is no rig; all come at once.
func LoadRig(fsys fs.FS, name string) (harness.Rig, []harness.Problem) {
	l := &loader{fsys: fsys}
	name = path.Clean(name)
	r := l.rig(l.read(name, harness.Place{}))
	if len(l.problems) > 0 {
		return harness.Rig{}, l.sorted()
	}
	r.File, r.Digest = name, l.digest()
	return r, nil
}

// rig reads a rig's file.
func (l *loader) rig(f *file) (r harness.Rig) {
	n := l.ofKind(f, "rig")
	if n == nil {
		return r
	}
	o, _ := rigTable.read(l, n).(*object)
	o.fill(&r)
	if state := o.get("state"); state.ok() && !r.Simulated {
		l.report(harness.Problem{Place: state.at, Found: "state: " + quote(state.text()), Wanted: "a simulated rig", Hint: "pins of this computer need no file; leave it out, or write `rig: simulated`"})
	}
	pins := &pinUse{l: l, used: map[string]string{}}
	for _, e := range o.get("boards").entries() {
		r.Boards = append(r.Boards, l.rigBoard(e, pins, r.Simulated))
	}
	labels := map[string]bool{}
	for _, d := range o.get("drives").objects() {
		r.Drives = append(r.Drives, l.drive(d, &r, pins))
		if label := d.get("name"); label.ok() {
			if labels[label.text()] {
				l.report(harness.Problem{Place: label.at, Found: "drive " + quote(label.text()) + " again", Wanted: "each drive with a name of its own"})
			}
			labels[label.text()] = true
		}
	}
	return r
}

// pinUse keeps what each pin is used for, and reports a pin that is used twice.
type pinUse struct {
	l    *loader
	used map[string]string
}

func (b *pinUse) claim(v value, what string) {
	if !v.ok() {
		return
	}
	if other, taken := b.used[v.text()]; taken {
		b.l.report(harness.Problem{Place: v.at, Found: "pin " + quote(v.text()) + " again", Wanted: "each pin once", Hint: "it is " + other + "'s already"})
		return
	}
	b.used[v.text()] = what
}

func (l *loader) rigBoard(e entry, pins *pinUse, simulated bool) harness.RigBoard {
	b := harness.RigBoard{Role: e.name, Place: e.at}
	e.val.object().fill(&b)
	for _, out := range e.val.object().get("outputs").entries() {
		o := out.val.object()
		pins.claim(o.get("pin"), e.name+"."+out.name)
		x := harness.RigOutput{Name: out.name, Place: out.at}
		o.fill(&x)
		l.load(o.get("load"), &x.Load)
		if wire := o.get("wire"); wire.given && !simulated {
			l.report(harness.Problem{Place: wire.at, Found: "wire: " + quote(wire.text()), Wanted: "a simulated rig", Hint: "real wires are as they are; leave it out"})
		}
		b.Outputs = append(b.Outputs, x)
	}
	return b
}

// MatchLeast and MatchMost bound the resistance, in ohm, of what looks like an electric match.
// Common practice, no source.
const (
	MatchLeast = 0.5
	MatchMost  = 3.0
)

// load refuses a dummy load that could not be told from an electric match.
func (l *loader) load(v value, d *harness.Load) {
	o := v.object()
	if o == nil {
		return
	}
	r := o.get("resistance")
	least, most := d.Ohm*(1-d.Tolerance), d.Ohm*(1+d.Tolerance)
	switch {
	case !o.get("kind").ok():
	case d.Kind == "open" && r.ok():
		l.report(harness.Problem{Place: r.at, Found: "a resistance", Wanted: "none for an open output", Hint: "write kind: resistor if something is connected"})
	case d.Kind != "open" && !r.given:
		l.report(harness.Problem{Place: v.at, Found: d.Kind + ` without "resistance"`, Wanted: "resistance: of the load"})
	case d.Kind != "open" && r.ok() && most >= MatchLeast && least <= MatchMost:
		l.report(harness.Problem{Place: r.at, Found: fmt.Sprintf("%s, with its tolerance %.3g to %.3g ohm", quantity.Text(d.Ohm, quantity.Resistance), least, most),
			Wanted: "a dummy load outside 0.5 to 3 ohm, so that it can't be taken for an electric match", Hint: "10 ohm or more is easy to tell apart"})
	}
}

func (l *loader) drive(o *object, r *harness.Rig, pins *pinUse) (d harness.Drive) {
	o.fill(&d)
	d.Place = o.at
	pins.claim(o.get("pin"), "drive "+d.Label)
	does := o.get("does")
	e, ok := does.x.(driveDoing)
	if !ok {
		return d
	}
	d.Does, d.Role, d.Output = e.kind, e.role, e.output
	d.SafeOn = d.Does == harness.DriveLiftoff || d.Does == harness.DriveSeparation || d.Does == harness.DriveWire
	if safe := o.get("safe"); safe.ok() {
		d.SafeOn = safe.text() == "on"
		switch {
		case d.SafeOn && (d.Does == harness.DrivePower || d.Does == harness.DriveArming):
			l.report(harness.Problem{Place: safe.at, Found: "safe: on", Wanted: "a board that is neither supplied nor armed without a run", Hint: "write safe: off"})
		case d.SafeOn && d.Does == harness.DriveShort:
			l.report(harness.Problem{Place: safe.at, Found: "safe: on", Wanted: "a load that is not shorted without a run", Hint: "write safe: off"})
		}
	}
	b := r.Board(d.Role)
	switch {
	case b == nil:
		l.report(harness.Problem{Place: does.at, Found: "unknown board " + quote(d.Role), Wanted: "a board of this rig", Hint: nearest(d.Role, roles(r))})
	case d.Does == harness.DriveLoopback && (b.Output(d.Output) == nil || b.Output(d.Output).Capture.Name == ""):
		l.report(harness.Problem{Place: does.at, Found: "loopback " + d.Role + "." + d.Output, Wanted: "an output that a pin sees", Hint: "give the output a `pin`"})
	case (d.Does == harness.DriveWire || d.Does == harness.DriveShort) && b.Output(d.Output) == nil:
		l.report(harness.Problem{Place: does.at, Found: d.Does.String() + " " + d.Role + "." + d.Output, Wanted: "an output of this rig's board"})
	}
	return d
}

func roles(r *harness.Rig) (names []string) {
	for _, b := range r.Boards {
		names = append(names, b.Role)
	}
	return names
}

// pinWord is the name of a pin.
type pinWord struct{}

var pinName = regexp.MustCompile(`^[A-Za-z0-9][A-Za-z0-9_-]{0,39}$`)

func (pinWord) schema() map[string]any {
	return map[string]any{"anyOf": []any{pattern(pinName.String()), map[string]any{"type": "integer", "minimum": 0}}}
}

func (pinWord) read(l *loader, n *node) any {
	if n.kind != scalar || !pinName.MatchString(n.text) {
		l.report(harness.Problem{Place: n.at, Found: n.found(), Wanted: "the name of a pin, such as GPIO17", Hint: "at most 40 letters, digits, _ and -; `drystage rig` lists this computer's"})
		return nil
	}
	return n.text
}

// boardAddress is where a board is; it never starts a program.
type boardAddress struct{}

func (boardAddress) schema() map[string]any { return pattern(`^(serial|unix|tcp|mock)(:.*)?$`) }

func (boardAddress) read(l *loader, n *node) any {
	kind, _, _ := strings.Cut(n.text, ":")
	switch {
	case n.kind == scalar && kind == "exec":
		l.report(harness.Problem{Place: n.at, Found: quote(n.text), Wanted: "an address that starts no program", Hint: "say --board ROLE=exec:... on the command line"})
	case n.kind != scalar || kind != "serial" && kind != "unix" && kind != "tcp" && kind != "mock":
		l.report(harness.Problem{Place: n.at, Found: n.found(), Wanted: "serial:PORT, serial:usb=VID:PID, unix:PATH, tcp:HOST:PORT or mock", Hint: nearest(kind, []string{"serial", "unix", "tcp", "mock"})})
	default:
		return n.text
	}
	return nil
}

// driveDoes is what a drive pin does.
type driveDoes struct{}

// driveDoing is what driveDoes reads.
type driveDoing struct {
	kind         harness.DriveKind
	role, output string
}

const driveForm = "power BOARD, arming BOARD, breakwire BOARD liftoff, breakwire BOARD separation, reset BOARD, loopback BOARD.OUTPUT, wire BOARD.OUTPUT or short BOARD.OUTPUT"

var drivePattern = regexp.MustCompile(`^\s*(?:(power|arming|reset)\s+(\w+)|breakwire\s+(\w+)\s+(liftoff|separation)|(loopback|wire|short)\s+(\w+)\.(\w+))\s*$`)

func (driveDoes) schema() map[string]any { return pattern(drivePattern.String()) }

func (driveDoes) read(l *loader, n *node) any {
	if !l.isScalar(n, driveForm) {
		return nil
	}
	m := drivePattern.FindStringSubmatch(n.text)
	if m == nil {
		verb, _, _ := strings.Cut(strings.TrimSpace(n.text), " ")
		l.report(harness.Problem{Place: n.at, Found: quote(n.text), Wanted: driveForm, Hint: nearest(verb, []string{"power", "arming", "breakwire", "reset", "loopback", "wire", "short"})})
		return nil
	}
	switch {
	case m[1] == "power":
		return driveDoing{harness.DrivePower, m[2], ""}
	case m[1] == "arming":
		return driveDoing{harness.DriveArming, m[2], ""}
	case m[1] == "reset":
		return driveDoing{harness.DriveReset, m[2], ""}
	case m[4] == "liftoff":
		return driveDoing{harness.DriveLiftoff, m[3], ""}
	case m[4] == "separation":
		return driveDoing{harness.DriveSeparation, m[3], ""}
	case m[5] == "wire":
		return driveDoing{harness.DriveWire, m[6], m[7]}
	case m[5] == "short":
		return driveDoing{harness.DriveShort, m[6], m[7]}
	}
	return driveDoing{harness.DriveLoopback, m[6], m[7]}
}
