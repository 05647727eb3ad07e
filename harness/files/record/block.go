package record

import (
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"
	"hash/crc32"
	"io"

	"github.com/klauspost/compress/zstd"
)

// The names of blocks.
const (
	headBlock   = 'H'
	tickBlock   = 'T'
	reportBlock = 'R'
	injectBlock = 'I'
	endBlock    = 'E'
)

const (
	largestHead  = 16 << 20 // bytes of JSON
	largestBlock = 64 << 20 // bytes, in a file or unpacked
)

var castagnoli = crc32.MakeTable(crc32.Castagnoli)

// writer writes blocks.
type writer struct {
	w   io.Writer
	z   *zstd.Encoder
	enc encoder
	out []byte

	grids [2]grid
}

func newWriter() (*writer, error) {
	z, err := zstd.NewWriter(nil, zstd.WithEncoderLevel(zstd.SpeedFastest), zstd.WithEncoderConcurrency(1),
		zstd.WithEncoderCRC(false), zstd.WithWindowSize(256<<10))
	return &writer{z: z}, err
}

// block writes a block of that content.
func (w *writer) block(name byte, content []byte) error {
	b := append([]byte{name}, binary.LittleEndian.AppendUint32(nil, uint32(len(content)))...)
	sum := crc32.Update(crc32.Checksum(b, castagnoli), castagnoli, content)
	for _, part := range [][]byte{b, content, binary.LittleEndian.AppendUint32(nil, sum)} {
		if _, err := w.w.Write(part); err != nil {
			return err
		}
	}
	return nil
}

// columns writes a block of the columns that pack appends.
func (w *writer) columns(name byte, pack func(*encoder)) error {
	w.enc.meta, w.enc.bits.out = w.enc.meta[:0], w.enc.bits.out[:0]
	pack(&w.enc)
	w.out = w.z.EncodeAll(w.enc.meta, append(w.out[:0], 0, 0, 0, 0))
	binary.LittleEndian.PutUint32(w.out, uint32(len(w.out)-4))
	w.out = append(w.out, w.enc.bits.bytes()...)
	if len(w.out) > largestBlock {
		return fmt.Errorf("a block of %d bytes, wanted at most %d", len(w.out), largestBlock)
	}
	return w.block(name, w.out)
}

// ErrCut says that a record ends before its end.
var ErrCut = errors.New("the record is cut short: its last block is missing")

// blocks reads blocks.
type blocks struct {
	r   io.Reader
	at  int64 // where the block being read begins
	z   *zstd.Decoder
	dec decoder
}

// block reads one block and checks its sum.
func (in *blocks) block() (name byte, content []byte, err error) {
	var b [5]byte
	if _, err := io.ReadFull(in.r, b[:]); err != nil {
		return 0, nil, ErrCut
	}
	n := int64(binary.LittleEndian.Uint32(b[1:]))
	if n > largestBlock || b[0] == headBlock && n > largestHead {
		return 0, nil, fmt.Errorf("found a block %q of %d bytes, which is too large", b[0], n)
	}
	// Copy grows with what arrives, so that a lying length costs nothing.
	var grown bytes.Buffer
	if got, err := io.Copy(&grown, io.LimitReader(in.r, n+4)); err != nil || got < n+4 {
		return 0, nil, ErrCut
	}
	content = grown.Bytes()[:n]
	sum := crc32.Update(crc32.Checksum(b[:], castagnoli), castagnoli, content)
	if binary.LittleEndian.Uint32(grown.Bytes()[n:]) != sum {
		return 0, nil, fmt.Errorf("found a block %q whose checksum is wrong; the file is damaged", b[0])
	}
	in.at += int64(len(b)) + n + 4
	return b[0], content, nil
}

// unpacked gives what was compressed, most bytes of it at most.
func (in *blocks) unpacked(b []byte, most uint64) ([]byte, error) {
	if in.z == nil {
		z, err := zstd.NewReader(nil, zstd.WithDecoderConcurrency(1), zstd.WithDecoderLowmem(true), zstd.WithDecoderMaxMemory(largestBlock))
		if err != nil {
			return nil, err
		}
		in.z = z
	}
	out, err := in.z.DecodeAll(b, nil)
	if err == nil && uint64(len(out)) > most {
		err = fmt.Errorf("%d bytes, wanted at most %d", len(out), most)
	}
	return out, err
}

// columns reads the columns of a block, of what the word says.
func (in *blocks) columns(content []byte, what string, unpack func(*decoder)) error {
	if len(content) < 4 || int64(binary.LittleEndian.Uint32(content)) > int64(len(content)-4) {
		return fmt.Errorf("a block of %s that can't be unpacked: it is too short", what)
	}
	n := 4 + binary.LittleEndian.Uint32(content)
	meta, err := in.unpacked(content[4:n], largestBlock)
	if err != nil {
		return fmt.Errorf("a block of %s that can't be unpacked: %w", what, err)
	}
	in.dec.unpacker = unpacker{meta: meta, bits: bitReader{in: content[n:]}}
	unpack(&in.dec)
	switch d := &in.dec; {
	case d.bad || d.bits.short:
		return fmt.Errorf("a block of %s that can't be unpacked: its columns don't fit together", what)
	case len(d.meta) > 0 || !d.bits.spent():
		return fmt.Errorf("a block of %s that holds more than its %s", what, what)
	}
	return nil
}
