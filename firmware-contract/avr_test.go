package firmwarecontract

import (
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"drystage/harness/board/contract"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// answer is what the avr program's board says to one frame, in Go.
func answer(e *contract.Encoder, f contract.Frame) []byte {
	switch f.Code {
	case contract.CodeHello:
		var m contract.Hello
		_ = m.Decode(f.Payload)
		w := contract.Welcome{Version: 1, Capabilities: contract.CanLockstep | contract.CanSettings, Channels: 3, Nonce: m.Nonce, Boots: 1}
		contract.PutText(w.Name[:], "avr")
		return e.Welcome(nil, &w)
	case contract.CodeSetting:
		var m contract.Setting
		_ = m.Decode(f.Payload)
		return e.Accept(nil, &contract.Accept{Name: m.Name, Value: m.Value / 2, Known: 1})
	case contract.CodeTest: // which it does not offer
		var m contract.Test
		_ = m.Decode(f.Payload)
		return e.Tested(nil, &contract.Tested{Nonce: m.Nonce, Channel: m.Channel, Refused: contract.TestOther})
	}
	return nil
}

// TestOnAnEmulatedAVR runs the library where int has 16 bits: frames of each message a board hears but
// those that answer with a clock or end the run, and damaged lines. The Go side says what must come out.
func TestOnAnEmulatedAVR(t *testing.T) {
	avr, sim := need(t, "avr-gcc"), need(t, "simavr")
	var line []byte
	for _, v := range contract.Vectors() {
		switch v.Message.Code {
		case contract.CodeTick, contract.CodeSync, contract.CodeRestart, contract.CodeBye:
			continue
		}
		if v.Message.From == contract.FromHost {
			line = append(line, v.Line...)
		}
	}
	for _, s := range contract.CorruptVectors() {
		if s.Counts.Bad() > 0 && s.Frames == 0 { // a sound TICK would be answered
			line = append(line, s.Line...)
		}
	}
	want, sum := whatGoMakes(line)

	dir := t.TempDir()
	var b strings.Builder
	fmt.Fprintf(&b, "#define LINE_COUNT %du\nstatic const uint8_t LINE[] PROGMEM = {", len(line))
	for _, c := range line {
		fmt.Fprintf(&b, "%d,", c)
	}
	b.WriteString("};\n")
	require.NoError(t, os.WriteFile(filepath.Join(dir, "line.h"), []byte(b.String()), 0o644))
	program := filepath.Join(dir, "avr.elf")
	run(t, avr, "-mmcu=atmega328p", "-DF_CPU=16000000UL", "-std=c99", "-Os", "-Wall", "-Wextra", "-Iinclude", "-I"+dir, "-o", program, "test/avr.c", "src/drystage.c")
	printed := run(t, sim, "-m", "atmega328p", "-f", "16000000", program)

	var have []string
	var cycles int
	plain := regexp.MustCompile(`\x1b\[\d*m`).ReplaceAllString(printed, "") // the emulator paints what the program says
	for _, m := range regexp.MustCompile(`(?m)^([0-9a-f]+|=[0-9a-f ]+)\.*\r?$`).FindAllStringSubmatch(plain, -1) {
		if m[1][0] != '=' {
			have = append(have, m[1])
			continue
		}
		var s uint32
		_, err := fmt.Sscanf(m[1], "=%08x %04x", &s, &cycles)
		require.NoError(t, err, m[1])
		assert.Equal(t, sum, s, "the answers")
		cycles *= 8
	}
	assert.Equal(t, want, have)
	t.Logf("the end of an IMU frame takes %d cycles", cycles)
	assert.Less(t, cycles, 37*10*16_000_000/115200, "less than the frame takes on a line of 115200 baud")
	assert.Greater(t, cycles, 1000)
}

// whatGoMakes gives the lines that the avr program must print, and the check of its answers.
func whatGoMakes(line []byte) (said []string, sum uint32) {
	d := contract.NewDecoder(contract.FromHost)
	var e contract.Encoder
	for _, b := range line {
		before := d.Counts
		f, _, ok := d.Next([]byte{b})
		c := d.Counts
		if ok {
			said = append(said, fmt.Sprintf("0100%02x%02x%x", uint8(f.Code), f.Seq, f.Payload))
			for _, a := range answer(&e, f) {
				sum = sum*31 + uint32(a)
			}
		}
		for i, risen := range []int{c.COBS - before.COBS, c.Long - before.Long, c.CRC - before.CRC, c.Unknown - before.Unknown, c.Length - before.Length} {
			if risen > 0 {
				said = append(said, fmt.Sprintf("%02x", uint8(-10-i)))
			}
		}
	}
	return said, sum
}
