package linktest

import (
	"fmt"

	"drystage/harness/board/link"
)

// base passes everything on, Instant too.
type base struct{ link.Link }

// Instant is that of the wrapped link.
func (b base) Instant() bool { return link.Instant(b.Link) }

// CutAfter passes n bytes, both directions counted together. Then the link is gone: further bytes are lost.
func CutAfter(l link.Link, n int) link.Link { return &cut{base{l}, n} }

type cut struct {
	base
	left int
}

func (c *cut) Write(b []byte) (int, error) {
	n := min(len(b), c.left)
	c.left -= n
	if n > 0 {
		if _, err := c.Link.Write(b[:n]); err != nil {
			return 0, err
		}
	}
	if n < len(b) {
		return n, c.gone()
	}
	return n, nil
}

func (c *cut) Read(b []byte) (int, error) {
	if c.left == 0 {
		return 0, c.gone()
	}
	n, err := c.Link.Read(b[:min(len(b), c.left)])
	c.left -= n
	return n, err
}

func (c *cut) gone() error { return fmt.Errorf("linktest: %w (cut on purpose)", link.ErrGone) }

// Flip flips one bit of the byte after the first n, both directions counted together.
func Flip(l link.Link, n int) link.Link { return &flip{base{l}, n, n % 8} }

type flip struct {
	base
	left, bit int
}

func (f *flip) Write(b []byte) (int, error) {
	c := append([]byte(nil), b...)
	f.spoil(c)
	return f.Link.Write(c)
}

func (f *flip) Read(b []byte) (int, error) {
	n, err := f.Link.Read(b)
	f.spoil(b[:n])
	return n, err
}

func (f *flip) spoil(b []byte) {
	if f.left >= 0 && f.left < len(b) {
		b[f.left] ^= 1 << f.bit
	}
	f.left -= len(b)
}

// OneByte writes byte by byte, and reads at most one byte at a time.
func OneByte(l link.Link) link.Link { return &oneByte{base{l}} }

type oneByte struct{ base }

func (o *oneByte) Write(b []byte) (int, error) {
	for i := range b {
		if _, err := o.Link.Write(b[i : i+1]); err != nil {
			return i, err
		}
	}
	return len(b), nil
}

func (o *oneByte) Read(b []byte) (int, error) { return o.Link.Read(b[:min(len(b), 1)]) }

// Silent accepts writes and drops all answers.
func Silent(l link.Link) link.Link { return &silent{base{l}} }

type silent struct{ base }

func (s *silent) Read(b []byte) (int, error) {
	for {
		if _, err := s.Link.Read(b); err != nil {
			return 0, err
		}
	}
}

// Flood reads as an endless stream of one byte, whatever is written.
func Flood(l link.Link, what byte) link.Link { return &flood{base{l}, what} }

type flood struct {
	base
	what byte
}

func (f *flood) Read(b []byte) (int, error) {
	for i := range b {
		b[i] = f.what
	}
	return len(b), nil
}
