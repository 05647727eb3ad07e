//go:build linux || windows || (darwin && cgo)

package link

import (
	"strconv"

	"go.bug.st/serial/enumerator"
)

// HasIdentities says whether this platform tells the USB identity of a serial port.
const HasIdentities = true

func ports() ([]Port, error) {
	details, err := enumerator.GetDetailedPortsList()
	if err != nil {
		return nil, err
	}
	var out []Port
	for _, d := range details {
		if d.Name == "" { // the device has been unplugged meanwhile
			continue
		}
		out = append(out, portOf(d))
	}
	return out, nil
}

func portOf(d *enumerator.PortDetails) Port {
	p := Port{Name: d.Name, Text: d.Product}
	vendor, verr := strconv.ParseUint(d.VID, 16, 16)
	product, perr := strconv.ParseUint(d.PID, 16, 16)
	if p.USB = d.IsUSB && verr == nil && perr == nil; p.USB {
		p.ID = Identity{uint16(vendor), uint16(product), d.SerialNumber}
	}
	if d.Manufacturer != "" && d.Product != "" {
		p.Text = d.Product + " (" + d.Manufacturer + ")"
	}
	return p
}
