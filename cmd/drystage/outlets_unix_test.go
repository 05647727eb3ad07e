//go:build linux || darwin || freebsd

package main

import (
	"bytes"
	"io"
	"testing"
	"time"

	"github.com/creack/pty"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// A serial line: all that was said comes out at its other end; a line that nobody empties is named.
func TestAPortOnASerialLine(t *testing.T) {
	for _, read := range []bool{true, false} {
		master, slave, err := pty.Open()
		require.NoError(t, err)
		folder := spoken(t, "nmea: {baud: 38400}\n")
		got := make(chan []byte, 1)
		if read {
			go func() {
				b, _ := io.ReadAll(master) // ends when the last one has closed the line
				got <- b
			}()
		}
		code, out, errs := command(t, "bench", "-q", "--inert", "--nmea", "sustainer=serial:"+slave.Name(), "--out", folder+"/out", folder+"/stays-on-rail.yaml")
		require.NoError(t, slave.Close())
		if !read {
			assert.Equal(t, unsure, code, out+errs)
			assert.Contains(t, out, "nobody reads it")
			require.NoError(t, master.Close())
			continue
		}
		require.Equal(t, passed, code, out+errs)
		var heard []byte
		select {
		case heard = <-got:
		case <-time.After(20 * time.Second):
			t.Fatal("the line was not closed")
		}
		require.NoError(t, master.Close())
		_, said, _ := command(t, "show", folder+"/out/stays-on-rail.record", "--nmea", "-")
		require.NotEmpty(t, said)
		assert.True(t, bytes.Equal([]byte(said), heard), "byte for byte: %d said, %d heard", len(said), len(heard))
	}
}
