package rig

import (
	"cmp"
	"fmt"
	"io"
	"strings"
	"text/tabwriter"

	"drystage/harness"
	"drystage/sim"
)

// Cautions are printed with every wiring.
var Cautions = [...]string{
	"No motor, igniter or charge may be connected, or lie near: dummy loads only.",
	"Supply the board from a current-limited source. Measure the wiring without power first.",
	"A pin that nobody holds floats: pull every switch to off by a resistor of its own.",
	"Never wire a firing output to a pin directly: opto-isolator, or divider with a clamp.",
	"Follow your national code, your range safety officer and the makers' instructions.",
}

// Wire is one line of a wiring: a pin, what is between, and the end at a board.
type Wire struct {
	Pin, Way, Board, End string
	Out                  bool // the pin drives
	Load                 string
	Electrics            string
}

// Wires lists the wiring of a rig: per board its outputs, then the drives.
func Wires(spec *harness.Rig) (wires []Wire) {
	for _, b := range spec.Boards {
		for _, o := range b.Outputs {
			w := Wire{Pin: cmp.Or(o.Capture.Name, "-"), Way: cmp.Or(o.Capture.Wired, "-"), Board: b.Role, End: "output " + o.Name, Load: LoadText(o.Load)}
			if o.Capture.Name != "" {
				w.Electrics = fmt.Sprintf("active %s, pull %s, debounce %s", active(o.Capture), o.Capture.Pull, timeText(o.Capture.Debounce)) + pathText(o.Capture)
			}
			wires = append(wires, w)
		}
		for _, d := range spec.Drives {
			if d.Role != b.Role {
				continue
			}
			end := d.Does.String()
			switch d.Does {
			case harness.DriveLoopback:
				end = "loopback to " + d.Output
			case harness.DriveWire, harness.DriveShort:
				end += " of " + d.Output
			}
			wires = append(wires, Wire{Pin: d.Name, Way: cmp.Or(d.Wired, "-"), Board: b.Role, End: end, Out: true,
				Electrics: fmt.Sprintf("active %s, safe %s", active(d.Pin), onOff(d.SafeOn)) + pathText(d.Pin)})
		}
	}
	return wires
}

func active(p harness.Pin) string {
	if p.ActiveLow {
		return "low"
	}
	return "high"
}

func onOff(on bool) string {
	if on {
		return "on"
	}
	return "off"
}

func pathText(p harness.Pin) string {
	if p.Delay == 0 && p.Within == 0 {
		return ""
	}
	return fmt.Sprintf(", delay %s ±%s", timeText(p.Delay), timeText(p.Within))
}

// timeText prints a short time in a suitable unit.
func timeText(t sim.Time) string {
	switch {
	case t == 0:
		return "0"
	case t < sim.Millisecond:
		return fmt.Sprintf("%.4g us", float64(t)/1e3)
	case t < sim.Second:
		return fmt.Sprintf("%.4g ms", float64(t)/1e6)
	}
	return fmt.Sprintf("%.4g s", float64(t)/1e9)
}

// LoadText describes the load of an output.
func LoadText(l harness.Load) string {
	switch l.Kind {
	case "":
		return "NOT DECLARED"
	case "open":
		return "open"
	}
	return fmt.Sprintf("%s %.4g ohm ±%.3g %%", l.Kind, l.Ohm, l.Tolerance*100)
}

// WriteTable prints the wiring as a table.
func WriteTable(w io.Writer, spec *harness.Rig) error {
	t := tabwriter.NewWriter(w, 0, 0, 2, ' ', 0)
	fmt.Fprintln(t, "PIN\tDIR\tWAY\tBOARD\tEND\tLOAD\tELECTRICS")
	for _, x := range Wires(spec) {
		dir := "in"
		if x.Out {
			dir = "out"
		}
		if x.Pin == "-" {
			dir = "-"
		}
		fmt.Fprintln(t, strings.Join([]string{x.Pin, dir, x.Way, x.Board, x.End, cmp.Or(x.Load, "-"), cmp.Or(x.Electrics, "-")}, "\t"))
	}
	return t.Flush()
}

// WriteDrawing draws the wiring for a terminal: this computer left, the boards right.
func WriteDrawing(w io.Writer, spec *harness.Rig) error {
	wires := Wires(spec)
	var b strings.Builder
	left, way := len("this computer"), 0
	right := 0
	for _, x := range wires {
		left, way, right = max(left, len([]rune(x.Pin))), max(way, len([]rune(x.Way))), max(right, len([]rune(endText(x))))
	}
	for i, x := range wires {
		if i == 0 || wires[i-1].Board != x.Board {
			if i > 0 {
				fmt.Fprintf(&b, "+%s+   %s   +%s+\n", strings.Repeat("-", left+2), strings.Repeat(" ", way+4), strings.Repeat("-", right+2))
			}
			fmt.Fprintf(&b, "  %s     %s     %s\n", padRight("this computer", left), strings.Repeat(" ", way+4), "board "+x.Board)
			fmt.Fprintf(&b, "+%s+   %s   +%s+\n", strings.Repeat("-", left+2), strings.Repeat(" ", way+4), strings.Repeat("-", right+2))
		}
		in, out := "<--", "---"
		if x.Out {
			in, out = "---", "-->"
		}
		line := in + "[ " + x.Way + " ]" + strings.Repeat("-", way-len([]rune(x.Way))) + out
		if x.Pin == "-" {
			line = strings.Repeat(" ", way+10)
		}
		fmt.Fprintf(&b, "| %s |%s| %s |\n", padRight(x.Pin, left), line, padRight(endText(x), right))
	}
	if len(wires) > 0 {
		fmt.Fprintf(&b, "+%s+   %s   +%s+\n", strings.Repeat("-", left+2), strings.Repeat(" ", way+4), strings.Repeat("-", right+2))
	}
	_, err := io.WriteString(w, b.String())
	return err
}

// endText is a wire's end at its board, with the load.
func endText(x Wire) string {
	if x.Load == "" {
		return x.End
	}
	return x.End + " == " + x.Load
}

func padRight(s string, n int) string { return s + strings.Repeat(" ", max(0, n-len([]rune(s)))) }
