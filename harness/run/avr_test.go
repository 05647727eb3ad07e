package run_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"drystage/harness/run"
)

// Names of files in an address are of the folder of the file that says it; all else stays as it is.
func TestAddressesOfAFolder(t *testing.T) {
	for address, want := range map[string]string{
		"mock:ignores-tilt":           "mock:ignores-tilt",
		"exec:./board a":              "exec:./board a",
		"serial:ttyACM0?baud=9600":    "serial:ttyACM0?baud=9600",
		"unix:board":                  "unix:../rocket/board",
		"unix:/run/board":             "unix:/run/board",
		"avr:f.elf?wiring=w.yaml":     "avr:../rocket/f.elf?wiring=../rocket/w.yaml",
		"avr:/f.elf?wiring=../w.yaml": "avr:/f.elf?wiring=../w.yaml",
		"avr:f.elf?flip=0x10&bridge=/b&wiring=my%26own.yaml": "avr:../rocket/f.elf?flip=0x10&bridge=/b&wiring=../rocket/my%26own.yaml",
	} {
		got := run.In("../rocket", address)
		assert.Equal(t, want, got)
		if run.Firmware(address) != "" {
			require.NoError(t, run.CheckAddress(got))
			assert.Equal(t, got, run.In(".", got), "of the working folder itself")
		}
	}
}
