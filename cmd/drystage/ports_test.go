package main

import (
	"strings"
	"testing"

	"drystage/harness/board/link"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestPortsTable(t *testing.T) {
	ports := []link.Port{
		{Name: "/dev/ttyACM0", USB: true, ID: link.Identity{Vendor: 0x1209, Product: 0xabcd, Serial: "B2"}, Text: "bay\tboard\x1b[2J"},
		{Name: "/dev/ttyS0"},
		{Name: "/dev/ttyUSB0", USB: true, ID: link.Identity{Vendor: 0x403, Product: 0x6001}},
		{Name: "/dev/ttyUSB1", USB: true, ID: link.Identity{Vendor: 0x403, Product: 0x6001}},
	}
	var out strings.Builder
	require.NoError(t, printPorts(&out, ports))
	assert.Equal(t, `PORT          USB        SERIAL NUMBER  PRODUCT        --board
/dev/ttyACM0  1209:abcd  B2             bay?board?[2J  serial:usb=1209:abcd:B2
/dev/ttyS0    -          -              -              serial:/dev/ttyS0
/dev/ttyUSB0  0403:6001  -              -              serial:/dev/ttyUSB0
/dev/ttyUSB1  0403:6001  -              -              serial:/dev/ttyUSB1
`, out.String())
	out.Reset()
	require.NoError(t, printPorts(&out, nil))
	assert.Contains(t, out.String(), "no serial port found")
}

func TestPortsPluggedInAndOut(t *testing.T) {
	a := link.Port{Name: "/dev/ttyUSB0", USB: true, ID: link.Identity{Vendor: 1, Product: 2}}
	b := a
	b.Name = "/dev/ttyUSB1"
	assert.Empty(t, changes([]link.Port{a}, []link.Port{a}))
	assert.Equal(t, []string{"gone  /dev/ttyUSB0 usb=0001:0002", "here  /dev/ttyUSB1 usb=0001:0002"}, changes([]link.Port{a}, []link.Port{b}))
}
