package main

import (
	"cmp"
	"fmt"
	"io"
	"runtime"
	"slices"
	"text/tabwriter"
	"time"

	"drystage/harness/board/link"
)

type portsCmd struct {
	Watch bool          `help:"Go on, and tell each port that is plugged in or out, until interrupted."`
	Every time.Duration `default:"500ms" help:"How often --watch looks."`
}

// Run lists the serial ports.
func (c *portsCmd) Run(d *console) error {
	ports, err := link.Ports()
	if err != nil {
		return status{unsure, err}
	}
	if err := printPorts(d.out, ports); err != nil || !c.Watch {
		return err
	}
	if c.Every < 10*time.Millisecond {
		return wrongUse("--every %s: at least 10ms", c.Every)
	}
	fmt.Fprintln(d.out, "\nwatching; Ctrl-C ends")
	for tick := time.NewTicker(c.Every); ; {
		select {
		case <-d.ctx.Done():
			tick.Stop()
			return nil
		case <-tick.C:
		}
		now, err := link.Ports()
		if err != nil {
			return status{unsure, err}
		}
		for _, line := range changes(ports, now) {
			fmt.Fprintln(d.out, line)
		}
		ports = now
	}
}

// printPorts gives a table whose last column is the address to paste.
func printPorts(w io.Writer, ports []link.Port) error {
	if len(ports) == 0 {
		fmt.Fprintln(w, "no serial port found; is the board plugged in, and its cable one for data?")
	} else {
		t := tabwriter.NewWriter(w, 0, 0, 2, ' ', 0)
		fmt.Fprintln(t, "PORT\tUSB\tSERIAL NUMBER\tPRODUCT\t--board")
		for _, p := range ports {
			usb := "-"
			if p.USB {
				usb = fmt.Sprintf("%04x:%04x", p.ID.Vendor, p.ID.Product)
			}
			fmt.Fprintf(t, "%s\t%s\t%s\t%s\t%s\n", printableField(p.Name), usb, cmp.Or(printableField(p.ID.Serial), "-"), cmp.Or(printableField(p.Text), "-"), printableField(address(p, ports)))
		}
		if err := t.Flush(); err != nil {
			return err
		}
	}
	if !link.HasIdentities {
		fmt.Fprintf(w, "this build for %s can't tell USB identities; name a port by its path\n", runtime.GOOS)
	}
	return nil
}

// address gives the address of a port: by its USB identity if that is unique.
func address(p link.Port, ports []link.Port) string {
	twin := func(o link.Port) bool { return o.Name != p.Name && o.USB && o.ID == p.ID }
	if !p.USB || slices.ContainsFunc(ports, twin) {
		return "serial:" + p.Name
	}
	return "serial:usb=" + p.ID.String()
}

// changes lists the ports that were removed and added.
func changes(before, now []link.Port) (lines []string) {
	has := func(ports []link.Port, p link.Port) bool { return slices.Contains(ports, p) }
	for _, p := range before {
		if !has(now, p) {
			lines = append(lines, "gone  "+p.String())
		}
	}
	for _, p := range now {
		if !has(before, p) {
			lines = append(lines, "here  "+p.String())
		}
	}
	return lines
}

// printableField gives text of a device without characters that control a terminal or break a table.
func printableField(s string) string {
	out := []rune(s)
	for i, r := range out {
		if r < ' ' || r >= 0x7f && r < 0xa0 {
			out[i] = '?'
		}
	}
	return string(out)
}
