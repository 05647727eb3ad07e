// Package linktest checks that a link keeps the rules of link.Link, and makes links that misbehave: each in one way,
// at a place counted in bytes. It never opens a port.
package linktest

import (
	"bytes"
	"errors"
	"fmt"
	"os"
	"time"

	"drystage/harness/board/link"
)

// patience is how long Check waits for an echo.
const patience = 5 * time.Second

// Check checks the rules of a link whose other end sends every byte back, and closes it.
func Check(l link.Link) error {
	for _, law := range []struct {
		name string
		test func(link.Link) error
	}{
		{"all 256 bytes come back as they were", everyByte},
		{"a small buffer gets the bytes in order", smallBuffer},
		{"nothing to read is late, again and again", late},
		{"after being late the link still works", everyByte},
		{"a long write is sent whole", longWrite},
		{"closed, it refuses; closing twice is fine", closed},
	} {
		if err := law.test(l); err != nil {
			return errors.Join(fmt.Errorf("linktest: law broken: %s: %w", law.name, err), l.Close())
		}
	}
	return nil
}

func everyByte(l link.Link) error {
	b := make([]byte, 256)
	for i := range b {
		b[i] = byte(i)
	}
	return echo(l, b, 64)
}

func smallBuffer(l link.Link) error { return echo(l, []byte("one by one"), 1) }

func longWrite(l link.Link) error { return echo(l, bytes.Repeat([]byte("0123456\x00"), 256), 4096) }

func echo(l link.Link, want []byte, buffer int) error {
	if n, err := l.Write(want); n != len(want) || err != nil {
		return fmt.Errorf("wrote %d of %d bytes: %w", n, len(want), err)
	}
	if err := l.SetReadDeadline(time.Now().Add(patience)); err != nil {
		return err
	}
	var got []byte
	for b := make([]byte, buffer); len(got) < len(want); {
		n, err := l.Read(b)
		if err != nil {
			return fmt.Errorf("after %d of %d bytes: %w", len(got), len(want), err)
		}
		if n == 0 {
			return errors.New("read gave 0 bytes and no error")
		}
		got = append(got, b[:n]...)
	}
	if !bytes.Equal(got, want) {
		return fmt.Errorf("sent %x, got %x", want, got)
	}
	return nil
}

func late(l link.Link) error {
	for _, wait := range []time.Duration{-time.Second, time.Millisecond, time.Millisecond} {
		if err := l.SetReadDeadline(time.Now().Add(wait)); err != nil {
			return err
		}
		n, err := l.Read(make([]byte, 8))
		if n != 0 || !errors.Is(err, os.ErrDeadlineExceeded) {
			return fmt.Errorf("got %d bytes and %v, wanted 0 and %w", n, err, os.ErrDeadlineExceeded)
		}
	}
	return nil
}

func closed(l link.Link) error {
	if err := l.Close(); err != nil {
		return err
	}
	if _, err := l.Write([]byte{1}); !errors.Is(err, os.ErrClosed) {
		return fmt.Errorf("write after close gave %v", err)
	}
	if _, err := l.Read(make([]byte, 1)); !errors.Is(err, os.ErrClosed) {
		return fmt.Errorf("read after close gave %v", err)
	}
	return l.Close()
}
