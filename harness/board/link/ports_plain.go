//go:build !(linux || windows || (darwin && cgo))

package link

import "go.bug.st/serial"

// HasIdentities says whether this platform tells the USB identity of a serial port.
const HasIdentities = false

func ports() ([]Port, error) {
	names, err := serial.GetPortsList()
	var out []Port
	for _, n := range names {
		out = append(out, Port{Name: n})
	}
	return out, err
}
