package firmwarecontract

import (
	"bufio"
	"fmt"
	"hash/crc32"
	"io"
	"os/exec"
	"strings"
	"testing"

	"drystage/harness/board/contract"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// decoder is the C library's decoder in a child process.
type decoder struct {
	in  io.Writer
	out *bufio.Reader
}

func startDecoder(t testing.TB) *decoder {
	cmd := exec.Command(compile(t, need(t, "cc"), "test/decoder.c", "src/drystage.c"))
	in, err := cmd.StdinPipe()
	require.NoError(t, err)
	out, err := cmd.StdoutPipe()
	require.NoError(t, err)
	require.NoError(t, cmd.Start())
	t.Cleanup(func() {
		in.Close()
		require.NoError(t, cmd.Wait(), "the sanitizers have found something")
	})
	return &decoder{in, bufio.NewReader(out)}
}

// ask gives what the C decoder makes of a line.
func (d *decoder) ask(line []byte) (string, error) {
	if _, err := d.in.Write(append([]byte{byte(len(line) >> 8), byte(len(line))}, line...)); err != nil {
		return "", err
	}
	var said strings.Builder
	for {
		s, err := d.out.ReadString('\n')
		said.WriteString(s)
		if err != nil || strings.HasPrefix(s, "end ") {
			return said.String(), err
		}
	}
}

// inGo gives what the Go decoder makes of the same line, in the same words. RESTART starts the
// board's decoder anew.
func inGo(line []byte) string {
	var said strings.Builder
	d := contract.NewDecoder(contract.FromHost)
	for _, b := range line {
		before := d.Counts
		f, _, ok := d.Next([]byte{b})
		if ok {
			fmt.Fprintf(&said, "frame %02x %02x %x\n", uint8(f.Code), f.Seq, f.Payload)
			if f.Code == contract.CodeRestart {
				d.Counts = contract.Counts{}
				d.Forget()
			}
			continue
		}
		c := d.Counts
		for i, risen := range []int{c.COBS - before.COBS, c.Long - before.Long, c.CRC - before.CRC,
			c.Unknown - before.Unknown, c.Length - before.Length} {
			if risen > 0 {
				fmt.Fprintf(&said, "error %d\n", -10-i)
			}
		}
	}
	pending := 0
	if d.Pending() {
		pending = 1
	}
	fmt.Fprintf(&said, "end %d %d %d\n", min(d.Counts.Bad(), 65535), min(d.Counts.Lost, 65535), pending)
	return said.String()
}

// lineOf makes a line of any bytes: a byte below 0xC0 begins so many raw ones; any other, up to 63
// that are framed with a right check, so that what lies behind the check is reached as well.
func lineOf(program []byte) (line []byte) {
	for len(program) > 0 {
		op := program[0]
		program = program[1:]
		n := min(int(op), len(program))
		if op < 0xC0 {
			line = append(line, program[:n]...)
		} else {
			n = min(int(op-0xC0), len(program))
			line = append(line, framed(program[:n])...)
		}
		program = program[n:]
	}
	return line[:min(len(line), 65535)]
}

func framed(raw []byte) []byte {
	c := crc32.Checksum(raw, crc32.MakeTable(crc32.Castagnoli))
	raw = append(append([]byte{}, raw...), byte(c), byte(c>>8), byte(c>>16), byte(c>>24))
	out := []byte{0}
	at := 0
	for _, b := range raw {
		if b == 0 {
			out[at] = byte(len(out) - at)
			at = len(out)
		}
		out = append(out, b)
	}
	out[at] = byte(len(out) - at)
	return append(out, 0)
}

// TestDecodersAgree: the C and the Go decoder make the same of any line.
func TestDecodersAgree(t *testing.T) {
	c := startDecoder(t)
	var hosts []contract.Message
	for _, m := range contract.Table() {
		if m.From == contract.FromHost {
			hosts = append(hosts, m)
		}
	}
	part := rapid.Custom(func(t *rapid.T) []byte {
		m := rapid.SampledFrom(hosts).Draw(t, "message")
		size, _ := m.Sizes()
		switch rapid.IntRange(0, 5).Draw(t, "kind") {
		case 0:
			return rapid.SliceOfN(rapid.Byte(), 0, 100).Draw(t, "noise")
		case 1:
			return framed(rapid.SliceOfN(rapid.Byte(), 0, 66).Draw(t, "any type, any length"))
		case 2:
			f := framed(append([]byte{byte(m.Code), 7}, make([]byte, size)...))
			f[rapid.IntRange(0, len(f)-1).Draw(t, "at")] ^= 1 << rapid.IntRange(0, 7).Draw(t, "bit")
			return f
		}
		seq := rapid.Byte().Draw(t, "seq")
		return framed(append([]byte{byte(m.Code), seq}, rapid.SliceOfN(rapid.Byte(), size, size).Draw(t, "payload")...))
	})
	frames := 0
	rapid.Check(t, func(t *rapid.T) {
		var line []byte
		for _, p := range rapid.SliceOfN(part, 0, 8).Draw(t, "parts") {
			line = append(line, p...)
		}
		said, err := c.ask(line)
		require.NoError(t, err)
		require.Equal(t, inGo(line), said)
		frames += strings.Count(said, "frame ")
	})
	require.Greater(t, frames, 50, "sound frames are among them")
}

// FuzzDecoders looks further: go test -fuzz FuzzDecoders ./firmware-contract
func FuzzDecoders(f *testing.F) {
	c := startDecoder(f)
	for _, v := range contract.Vectors() {
		f.Add(append([]byte{byte(len(v.Line))}, v.Line...))
		f.Add(append([]byte{0xC0 + byte(min(2+len(v.Payload), 63)), byte(v.Message.Code), v.Seq}, v.Payload...))
	}
	for _, s := range contract.CorruptVectors() {
		f.Add(append([]byte{0xBF}, s.Line...))
	}
	f.Fuzz(func(t *testing.T, program []byte) {
		line := lineOf(program)
		said, err := c.ask(line)
		require.NoError(t, err)
		require.Equal(t, inGo(line), said)
	})
}
