package link_test

import (
	"testing"

	"drystage/harness/board/link"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

var (
	left  = link.Port{Name: "/dev/none0", USB: true, ID: link.Identity{Vendor: 0x1209, Product: 0xabcd, Serial: "A1:7"}, Text: "bay"}
	right = link.Port{Name: "/dev/none1", USB: true, ID: link.Identity{Vendor: 0x1209, Product: 0xabcd, Serial: "B2"}}
	mute1 = link.Port{Name: "/dev/none2", USB: true, ID: link.Identity{Vendor: 0x0403, Product: 0x6001}}
	mute2 = link.Port{Name: "/dev/none3", USB: true, ID: link.Identity{Vendor: 0x0403, Product: 0x6001}, Text: "evil\x1b[2J"}
	plain = link.Port{Name: "/dev/none4"}
)

func TestPortsByIdentity(t *testing.T) {
	if !link.HasIdentities {
		t.Skip("this build can't tell USB identities")
	}
	all := []link.Port{left, right, mute1, mute2, plain}
	for _, c := range []struct {
		reason, address, want string
		ports                 []link.Port
	}{
		{"the serial number decides, with a colon inside too", "usb=1209:ABCD:A1:7", "link: serial:/dev/none0: no such file", all},
		{"one of its kind needs no serial number", "usb=1209:abcd", "link: serial:/dev/none1: no such file", []link.Port{right, plain}},
		{"two of a kind are named with their serial numbers", "usb=1209:abcd",
			"2 ports have this identity; name one by its serial number, as in usb=1209:abcd:A1:7; ports of this machine: /dev/none0 usb=1209:abcd:A1:7 bay, /dev/none1 usb=1209:abcd:B2", all},
		{"two without serial numbers need a path, and text can't steer a terminal", "usb=0403:6001",
			"they carry no serial numbers, so name one by its path; ports of this machine: /dev/none2 usb=0403:6001, /dev/none3 usb=0403:6001 evil[2J", all},
		{"missing, with the list", "usb=dead:beef", "no port has this identity; ports of this machine: /dev/none0", all},
		{"none at all", "usb=dead:beef", "no port has this identity; this machine shows no serial port, check the cable", nil},
		{"another serial number is another device", "usb=1209:abcd:C3", "no port has this identity", all},
	} {
		_, err := link.Open(t.Context(), "serial:"+c.address, link.Options{Ports: func() ([]link.Port, error) { return c.ports, nil }})
		require.Error(t, err, c.reason)
		assert.ErrorContains(t, err, c.want, c.reason)
	}
}

func TestThisMachinesPorts(t *testing.T) {
	ports, err := link.Ports()
	require.NoError(t, err)
	for _, p := range ports {
		assert.NotEmpty(t, p.Name)
	}
}
