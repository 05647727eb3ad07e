package codecoverage

import (
	"encoding/binary"
	"fmt"
	"os"
)

// Counts are what the emulator has counted for each word of the flash.
type Counts struct {
	Executed []uint64
	Jumped   []uint64 // the next instruction was not the one behind it
}

// Read reads a file of the emulator (firmware-contract/ports/avr/bridge/flash.h).
func Read(file string) (c Counts, err error) {
	bytes, err := os.ReadFile(file)
	if err != nil {
		return c, err
	}
	if len(bytes) == 0 || len(bytes)%16 != 0 {
		return c, fmt.Errorf("%s: found %d bytes; wanted 16 for each word of the flash", file, len(bytes))
	}
	for at := 0; at < len(bytes); at += 16 {
		c.Executed = append(c.Executed, binary.NativeEndian.Uint64(bytes[at:]))
		c.Jumped = append(c.Jumped, binary.NativeEndian.Uint64(bytes[at+8:]))
	}
	return c, nil
}

// Add adds other counts.
func (c *Counts) Add(o *Counts) {
	for len(c.Executed) < len(o.Executed) {
		c.Executed, c.Jumped = append(c.Executed, 0), append(c.Jumped, 0)
	}
	for i := range o.Executed {
		c.Executed[i] += o.Executed[i]
		c.Jumped[i] += o.Jumped[i]
	}
}

// executed is how often the instruction at an address was executed.
func (c *Counts) executed(address uint32) uint64 {
	if i := int(address / 2); i < len(c.Executed) {
		return c.Executed[i]
	}
	return 0
}

// Ways gives how often a branch went on behind itself, and how often elsewhere.
func (c *Counts) Ways(b *Branch) (fell, jumped uint64) {
	if i := int(b.Address / 2); i < len(c.Executed) {
		return c.Executed[i] - c.Jumped[i], c.Jumped[i]
	}
	return 0, 0
}
