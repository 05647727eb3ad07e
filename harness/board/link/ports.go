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
	USB  bool   // it hangs on USB, and the identity below is known
	ID   Identity
	Text string // what the device says it is, for people
}

// Identity tells one USB device from another, wherever it is plugged in.
type Identity struct {
	Vendor, Product uint16
	Serial          string // of the single device; often empty
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

// is says that a port's device is meant by id, which may leave the serial number open.
func (p Port) is(id Identity) bool {
	return p.USB && p.ID.Vendor == id.Vendor && p.ID.Product == id.Product && (id.Serial == "" || id.Serial == p.ID.Serial)
}

// String gives name, identity and text in one line that can't steer a terminal.
func (p Port) String() string {
	text := p.Name
	if p.USB {
		text += " usb=" + p.ID.String()
	}
	if p.Text != "" {
		text += " " + p.Text
	}
	return flat(text)
}

// Ports lists the serial ports of this machine, in order of their names. Where the platform can't
// tell USB identities (see HasIdentities), the names come alone.
func Ports() ([]Port, error) {
	ports, err := ports()
	if err != nil {
		return nil, fmt.Errorf("link: this machine's ports can't be listed: %w", err)
	}
	slices.SortFunc(ports, func(a, b Port) int { return cmp.Compare(a.Name, b.Name) })
	return ports, nil
}

// listed names ports in one line.
func listed(ports []Port) string {
	if len(ports) == 0 {
		return "this machine shows no serial port, check the cable"
	}
	lines := make([]string, len(ports))
	for i, p := range ports {
		lines[i] = p.String()
	}
	return "ports of this machine: " + strings.Join(lines, ", ")
}

// pick finds the one port that an identity means.
func pick(ports []Port, id Identity) (Port, error) {
	var found []Port
	for _, p := range ports {
		if p.is(id) {
			found = append(found, p)
		}
	}
	switch len(found) {
	case 1:
		return found[0], nil
	case 0:
		return Port{}, fmt.Errorf("no port has this identity; %s", listed(ports))
	}
	hint := "name one by its serial number, as in usb=" + found[0].ID.String()
	if found[0].ID.Serial == "" {
		hint = "they carry no serial numbers, so name one by its path"
	}
	return Port{}, fmt.Errorf("%d ports have this identity; %s; %s", len(found), hint, listed(found))
}
