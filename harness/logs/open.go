package logs

import (
	"bufio"
	"bytes"
	"fmt"
	"io"
)

// Kind is what a file turns out to be.
type Kind uint8

// The kinds of file that hold a log.
const (
	Table Kind = iota
	NMEA
	Record
)

// Sniff tells the kind of a file by its first bytes. Of sentences the first line may be cut, or be a greeting.
func Sniff(r *bufio.Reader) Kind {
	b, _ := r.Peek(2048)
	if bytes.HasPrefix(b, []byte("drystage record")) {
		return Record
	}
	lines, sentences := bytes.Split(bytes.TrimSpace(bytes.TrimPrefix(b, []byte("\xef\xbb\xbf"))), []byte("\n")), 0
	for _, line := range lines {
		if bytes.HasPrefix(bytes.TrimSpace(line), []byte("$")) {
			sentences++
		}
	}
	if sentences*2 > len(lines) {
		return NMEA
	}
	return Table
}

// Ambiguous says that a proposal leaves something open, so that a person has to answer.
type Ambiguous struct {
	Name     string
	Proposal *Proposal
}

// Error lists the doubts and the next step.
func (a *Ambiguous) Error() string {
	s := fmt.Sprintf("logs: %s: the columns don't tell all:", a.Name)
	for _, d := range a.Proposal.Doubts {
		s += "\n  " + d
	}
	return s + "\nwrite the proposal with --propose-mapping FILE, answer its CHECK lines, and read with --mapping FILE"
}

// ReadText reads a table or NMEA sentences. Without a mapping, a table's own is proposed from its
// beginning and used when it leaves nothing open; told is then given the proposal.
func ReadText(r io.ReadSeeker, name string, m *Mapping, opt Options, told func(*Proposal)) (*Log, error) {
	kind := Sniff(bufio.NewReader(r))
	var err error
	if opt.size, err = r.Seek(0, io.SeekEnd); err != nil {
		return nil, err
	}
	if _, err := r.Seek(0, io.SeekStart); err != nil {
		return nil, err
	}
	switch {
	case kind == NMEA && m == nil:
		return ReadNMEA(r, name, opt)
	case m != nil:
		return ReadTable(r, name, m, opt)
	}
	p, err := Propose(r, name)
	if err != nil {
		return nil, err
	}
	if len(p.Doubts) > 0 {
		return nil, &Ambiguous{name, p}
	}
	if told != nil {
		told(p)
	}
	if _, err := r.Seek(0, io.SeekStart); err != nil {
		return nil, err
	}
	return ReadTable(r, name, p.Mapping, opt)
}
