package firmwarecontract

import (
	"bufio"
	"encoding/hex"
	"fmt"
	"io"
	"os/exec"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"periph.io/x/conn/v3"
	"periph.io/x/conn/v3/physic"
	"periph.io/x/conn/v3/spi"
)

// standIn is a stand-in part as a process.
type standIn struct {
	t   *testing.T
	in  io.Writer
	out *bufio.Scanner
	// pause is the time that passes before each transaction.
	pause time.Duration
}

// senses is what a part senses, in SI units and degC.
type senses struct {
	pressure, temperature float64
	accel, gyro, mag      [3]float64 // mag in T
}

var partSources = []string{"parts/serve.c", "parts/part.c", "parts/ms5611.c", "parts/bmp280.c", "parts/mpu6050.c", "parts/adxl375.c", "parts/mag3110.c", "parts/gnss.c"}

func standInOf(t *testing.T, program, part string) *standIn {
	c := exec.Command(program)
	in, err := c.StdinPipe()
	require.NoError(t, err)
	out, err := c.StdoutPipe()
	require.NoError(t, err)
	var said strings.Builder
	c.Stderr = &said
	require.NoError(t, c.Start())
	t.Cleanup(func() {
		in.Close()
		require.NoError(t, c.Wait(), said.String())
	})
	s := &standIn{t: t, in: in, out: bufio.NewScanner(out), pause: time.Millisecond}
	s.does("part %s", part)
	s.passes(100 * time.Millisecond)
	return s
}

// ask sends a command and gives the answer.
func (s *standIn) ask(format string, args ...any) string {
	s.t.Helper()
	_, err := fmt.Fprintf(s.in, format+"\n", args...)
	require.NoError(s.t, err)
	require.True(s.t, s.out.Scan(), "the program has ended")
	return s.out.Text()
}

func (s *standIn) does(format string, args ...any) {
	s.t.Helper()
	require.Equal(s.t, "ok", s.ask(format, args...), format)
}

func (s *standIn) passes(d time.Duration) { s.does("after %d", d.Nanoseconds()) }

func (s *standIn) edges(d time.Duration) int {
	n, err := strconv.Atoi(s.ask("edges %d", d.Nanoseconds()))
	require.NoError(s.t, err)
	return n
}

func (s *standIn) senses(v senses) {
	mm := func(x float64) int64 { return int64(x*1e3 + 0.5*sign(x)) }
	urad := func(x float64) int64 { return int64(x*1e6 + 0.5*sign(x)) }
	nano := func(x float64) int64 { return int64(x*1e9 + 0.5*sign(x)) }
	s.does("values %d %d %d %d %d %d %d %d %d %d %d", int64(v.pressure*1e3+0.5), int64(v.temperature*100+0.5*sign(v.temperature)),
		mm(v.accel[0]), mm(v.accel[1]), mm(v.accel[2]), urad(v.gyro[0]), urad(v.gyro[1]), urad(v.gyro[2]),
		nano(v.mag[0]), nano(v.mag[1]), nano(v.mag[2]))
}

func sign(x float64) float64 {
	if x < 0 {
		return -1
	}
	return 1
}

// Tx is a transaction on I2C, as the drivers want it.
func (s *standIn) Tx(address uint16, w, r []byte) error {
	s.passes(s.pause)
	sent := "-"
	if len(w) > 0 {
		sent = hex.EncodeToString(w)
	}
	answer := s.ask("i2c %d %s %d", address, sent, len(r))
	switch answer {
	case "nack", "refused", "blocked":
		return fmt.Errorf("i2c 0x%02x: %s", address, answer)
	case "ok":
		return nil
	}
	_, err := hex.Decode(r, []byte(answer))
	return err
}

func (s *standIn) String() string                  { return "stand-in" }
func (s *standIn) SetSpeed(physic.Frequency) error { return nil }

// onSPI is the part on a bus of its own.
type onSPI struct{ *standIn }

func (s onSPI) Connect(physic.Frequency, spi.Mode, int) (spi.Conn, error) { return s, nil }
func (s onSPI) Duplex() conn.Duplex                                       { return conn.Full }
func (s onSPI) TxPackets([]spi.Packet) error                              { return fmt.Errorf("not needed") }

func (s onSPI) Tx(w, r []byte) error {
	s.passes(s.pause)
	answer, err := hex.DecodeString(s.ask("spi %s", hex.EncodeToString(w)))
	copy(r, answer)
	return err
}

// reads gives bytes from a register on.
func (s *standIn) reads(address uint16, register byte, n int) []byte {
	s.t.Helper()
	b := make([]byte, n)
	require.NoError(s.t, s.Tx(address, []byte{register}, b))
	return b
}

func (s *standIn) writes(address uint16, bytes ...byte) {
	s.t.Helper()
	require.NoError(s.t, s.Tx(address, bytes, nil))
}

// flightOfPressures goes from the ground to 11 km with the temperatures of a cold and a warm board.
var flightOfPressures = []senses{
	{pressure: 105000, temperature: 40}, {pressure: 101325, temperature: 25}, {pressure: 101324.5, temperature: 25.01},
	{pressure: 96123.4, temperature: 20}, {pressure: 89874.6, temperature: 19.99}, {pressure: 70108.5, temperature: 3.2},
	{pressure: 54019.9, temperature: -7.55}, {pressure: 41060.7, temperature: -15.01}, {pressure: 31000, temperature: -24.6},
}
