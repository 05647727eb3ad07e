package conformance

import (
	"bytes"
	"encoding/binary"
	"hash/crc32"
	"time"

	"drystage/harness/board/contract"
	"drystage/harness/board/session"
)

// checksum makes the four bytes behind a frame. The first one of the list is the contract's; the others are common
// mistakes.
type checksum struct {
	words string // what is wrong with it; empty: nothing
	make  func(raw []byte) [4]byte
}

func little(c uint32) (b [4]byte) { binary.LittleEndian.PutUint32(b[:], c); return b }
func big(c uint32) (b [4]byte)    { binary.BigEndian.PutUint32(b[:], c); return b }

func castagnoli(raw []byte) uint32 { return crc32.Checksum(raw, crc32.MakeTable(crc32.Castagnoli)) }

// The polynomials are those of RFC 3720, 12.1 (Castagnoli) and IEEE 802.3, 3.2.9.
var checksums = []checksum{
	{"", func(raw []byte) [4]byte { return little(castagnoli(raw)) }},
	{"whose check is the CRC-32 of IEEE 802.3: the CRC polynomial is wrong, 0x04C11DB7 where the contract has 0x1EDC6F41 (CRC-32C)",
		func(raw []byte) [4]byte { return little(crc32.ChecksumIEEE(raw)) }},
	{"whose check has its bytes the other way round: the byte order is wrong, big-endian where the contract is little-endian",
		func(raw []byte) [4]byte { return big(castagnoli(raw)) }},
	{"whose check is the CRC-32 of IEEE 802.3 with its bytes the other way round: polynomial and byte order are wrong",
		func(raw []byte) [4]byte { return big(crc32.ChecksumIEEE(raw)) }},
	{"whose check lacks the final exclusive-or with 0xFFFFFFFF", func(raw []byte) [4]byte { return little(^castagnoli(raw)) }},
	{"whose check is always 0", func([]byte) [4]byte { return [4]byte{} }},
}

// probeChecksum sends HELLO with each wrong checksum to a board that does not answer, each with a nonce of its own. It
// says in words which one the board answers; empty: none.
func (s *tester) probeChecksum() string {
	for i, asked := range checksums {
		m := s.greeting()
		m.Nonce += uint32(i + 1)
		f := decodeRaw(s.Enc.Hello(nil, &m))
		raw := f.withCRC()
		body := raw[:len(raw)-4]
		check := asked.make(body)
		if err := s.Send(append([]byte{0}, stuff(append(body, check[:]...))...)); err != nil {
			return ""
		}
		nonce, words, ok := s.welcomedBy(s.listenRaw(min(s.opt.Timeout, session.HelloEvery)))
		if !ok {
			continue
		}
		if late := int(nonce - s.Nonce); late >= 0 && late <= i {
			asked = checksums[max(late-1, 0)] // of an earlier HELLO
		}
		switch {
		case asked.words != "":
			return "to a HELLO " + asked.words
		case words != "":
			return "that is a WELCOME " + words
		}
		return "that came later: the board starts or answers too slowly; --timeout gives it longer"
	}
	return ""
}

// listenRaw gathers bytes until nothing has come for a time, or a delimiter ends them.
func (s *tester) listenRaw(wait time.Duration) (all []byte) {
	s.Budget = session.MaxBytes
	for deadline := time.Now().Add(wait); ; {
		if s.Read(s.ctx, deadline) != nil {
			return all
		}
		all = append(all, s.Unread()...)
		if n := len(all); n > 0 && all[n-1] == 0 {
			return all
		}
	}
}

// welcomedBy looks for a WELCOME among bytes, and gives its nonce, and how its checksum was made.
func (s *tester) welcomedBy(in []byte) (nonce uint32, words string, ok bool) {
	for line := range bytes.SplitSeq(in, []byte{0}) {
		raw, sound := unstuff(line)
		if !sound || len(raw) < 14 || raw[0] != uint8(contract.CodeWelcome) {
			continue
		}
		for _, by := range checksums {
			check := by.make(raw[:len(raw)-4])
			if bytes.Equal(check[:], raw[len(raw)-4:]) {
				return binary.LittleEndian.Uint32(raw[6:]), by.words, true
			}
		}
	}
	return 0, "", false
}

// unstuff reverses stuff; the delimiter is not part of line.
func unstuff(line []byte) (raw []byte, ok bool) {
	for i := 0; i < len(line); {
		d := int(line[i])
		if d == 0 || i+d > len(line) {
			return nil, false
		}
		if i > 0 {
			raw = append(raw, 0)
		}
		raw = append(raw, line[i+1:i+d]...)
		i += d
	}
	return raw, true
}
