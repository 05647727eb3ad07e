package link

import (
	"cmp"
	"fmt"
	"slices"
	"strconv"
	"strings"
)

// Port is a serial port of this machine.
type Port struct {
	Name string // what serial: takes, such as /dev/ttyUSB0 or COM3
	USB  bool   // a USB device with a known identity
	ID   Identity
	Text string // description of the device
}

// Identity identifies a USB device, independent of where it is plugged in.
type Identity struct {
	Vendor, Product uint16
	Serial          string // of this one device; often empty
}

// String gives the identity as an address has it: VID:PID or VID:PID:SERIALNUMBER.
func (id Identity) String() string {
	text := fmt.Sprintf("%04x:%04x", id.Vendor, id.Product)
	if id.Serial != "" {
		text += ":" + id.Serial
	}
	return text
}

// parseIdentity reads VID:PID or VID:PID:SERIALNUMBER.
func parseIdentity(text string) (id Identity, err error) {
	parts := strings.SplitN(text, ":", 3)
	if len(parts) < 2 {
		return id, fmt.Errorf("%q is no USB identity; write usb=VID:PID or usb=VID:PID:SERIALNUMBER as `drystage ports` prints it", text)
	}
	for i, to := range []*uint16{&id.Vendor, &id.Product} {
		n, err := strconv.ParseUint(parts[i], 16, 16)
		if err != nil || len(parts[i]) != 4 {
			return id, fmt.Errorf("%q in usb=%s is not four hexadecimal digits; write usb=VID:PID or usb=VID:PID:SERIALNUMBER as `drystage ports` prints it", parts[i], text)
		}
		*to = uint16(n)
	}
	if len(parts) == 3 {
		id.Serial = parts[2]
	}
	return id, nil
}

// matches says whether a port's device has an identity; an empty serial number matches all.
func (p Port) matches(id Identity) bool {
	return p.USB && p.ID.Vendor == id.Vendor && p.ID.Product == id.Product && (id.Serial == "" || id.Serial == p.ID.Serial)
}

// String gives name, identity and text in one line, without control characters.
func (p Port) String() string {
	text := p.Name
	if p.USB {
		text += " usb=" + p.ID.String()
	}
	if p.Text != "" {
		text += " " + p.Text
	}
	return oneLine(text)
}

// Ports lists the serial ports of this machine, sorted by name. If the platform can't tell USB identities (see
// HasIdentities), only the names are known.
func Ports() ([]Port, error) {
	ports, err := ports()
	if err != nil {
		return nil, fmt.Errorf("link: this machine's ports can't be listed: %w", err)
	}
	slices.SortFunc(ports, func(a, b Port) int { return cmp.Compare(a.Name, b.Name) })
	return ports, nil
}

// portList names ports in one line.
func portList(ports []Port) string {
	if len(ports) == 0 {
		return "this machine shows no serial port, check the cable"
	}
	lines := make([]string, len(ports))
	for i, p := range ports {
		lines[i] = p.String()
	}
	return "ports of this machine: " + strings.Join(lines, ", ")
}

// findByIdentity finds the one port with an identity.
func findByIdentity(ports []Port, id Identity) (Port, error) {
	var found []Port
	for _, p := range ports {
		if p.matches(id) {
			found = append(found, p)
		}
	}
	switch len(found) {
	case 1:
		return found[0], nil
	case 0:
		return Port{}, fmt.Errorf("no port has this identity; %s", portList(ports))
	}
	hint := "name one by its serial number, as in usb=" + found[0].ID.String()
	if found[0].ID.Serial == "" {
		hint = "they carry no serial numbers, so name one by its path"
	}
	return Port{}, fmt.Errorf("%d ports have this identity; %s; %s", len(found), hint, portList(found))
}
