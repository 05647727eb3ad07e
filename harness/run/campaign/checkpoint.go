package campaign

import (
	"bufio"
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/binary"
	"encoding/json"
	"errors"
	"fmt"
	"hash/crc32"
	"io"
	"maps"
	"os"
	"slices"
	"time"

	"drystage/harness"
	"drystage/harness/disk"
	"drystage/harness/judge/dispersion"
	"drystage/harness/run"
)

// Checkpoint is a file of what came of flights on this computer: a command that was interrupted goes on with it where it was.
// The zero pointer is none. It begins with a line that says of what it is; then come flights, each with its length, a digest of
// what it was, what came of it, and a checksum.
type Checkpoint struct {
	file  *os.File
	known map[flightKey]place
	end   int64
}

// flightKey is the digest of what a flight is among those of its checkpoint.
type flightKey [16]byte

// place is where the packed result of a flight is in the file.
type place struct {
	at   int64
	size int
}

// Identity is all that results hang on, beside what tells the flights of a command apart.
type Identity struct {
	Made                            harness.Maker
	Boards                          []string
	Seeds                           map[string]uint64 // by the scenario's file
	Files                           map[string]string // SHA-256 by name
	Timeout, AnswerLimit, LateLimit time.Duration
}

// IdentityOf is that of plans on built-in boards.
func IdentityOf(plans []harness.Plan, opt *run.Options) Identity {
	id := Identity{
		Made: run.Maker(), Boards: opt.Boards, Seeds: map[string]uint64{}, Files: map[string]string{},
		Timeout: opt.Timeout, AnswerLimit: opt.AnswerLimit, LateLimit: opt.LateLimit,
	}
	for i := range plans {
		id.Seeds[plans[i].File] = plans[i].Setup.Seed
		for _, f := range plans[i].Files {
			id.Files[f.Name] = f.Sum
			if f.Sum == "" {
				id.Files[f.Name] = digest([]byte(f.Text))
			}
		}
	}
	return id
}

// differs says in what another identity differs; empty: in nothing.
func (id *Identity) differs(now *Identity) string {
	switch {
	case !id.Made.SameProgram(&now.Made):
		return fmt.Sprintf("it is of drystage %s (%s, %s), this one is %s (%s, %s)", id.Made.Version, id.Made.Go, id.Made.Arch, now.Made.Version, now.Made.Go, now.Made.Arch)
	case !slices.Equal(id.Boards, now.Boards):
		return fmt.Sprintf("it is of the boards %q, now they are %q", id.Boards, now.Boards)
	case id.Timeout != now.Timeout || id.AnswerLimit != now.AnswerLimit || id.LateLimit != now.LateLimit:
		return "its limits of time are other ones"
	}
	for _, name := range slices.Sorted(maps.Keys(now.Seeds)) {
		if was, there := id.Seeds[name]; !there {
			return "it is not of " + name
		} else if was != now.Seeds[name] {
			return fmt.Sprintf("it is of %s with seed %d, now the seed is %d", name, was, now.Seeds[name])
		}
	}
	for _, name := range slices.Sorted(maps.Keys(id.Seeds)) {
		if _, there := now.Seeds[name]; !there {
			return "it is of " + name + ", too"
		}
	}
	for _, name := range slices.Sorted(maps.Keys(now.Files)) {
		if id.Files[name] != now.Files[name] {
			return name + " has changed since"
		}
	}
	return ""
}

const (
	maxIdentity = 1 << 20
	entryHead   = 4 + len(flightKey{})
	entryTail   = 4
)

var castagnoli = crc32.MakeTable(crc32.Castagnoli)

// OpenCheckpoint opens a file, or makes it. One of other flights is refused with the reason. What a crash has left of the last
// flight is cut off.
func OpenCheckpoint(name string, id Identity) (*Checkpoint, error) {
	if _, err := os.Stat(name); err == nil {
		if f, err := disk.Open(name); err != nil { // not a regular file
			return nil, err
		} else if err := f.Close(); err != nil {
			return nil, err
		}
	}
	f, err := os.OpenFile(name, os.O_RDWR|os.O_CREATE, 0o644)
	if err != nil {
		return nil, err
	}
	c := &Checkpoint{file: f, known: map[flightKey]place{}}
	if err := c.read(&id); err != nil {
		return nil, errors.Join(fmt.Errorf("%s: %w", name, err), f.Close())
	}
	return c, nil
}

// read reads what is there, or begins the file.
func (c *Checkpoint) read(id *Identity) error {
	own, err := json.Marshal(id)
	if err != nil {
		return err
	}
	in := bufio.NewReaderSize(c.file, 1<<16)
	line, err := in.ReadBytes('\n')
	if len(line) == 0 && errors.Is(err, io.EOF) {
		return c.append(append(own, '\n'))
	}
	var was Identity
	if err != nil || len(line) > maxIdentity || json.Unmarshal(line, &was) != nil || len(was.Seeds) == 0 {
		return errors.New("found something that no earlier --resume has written; give another name")
	}
	if why := was.differs(id); why != "" {
		return fmt.Errorf("its flights can't be used: %s; remove it, or give another name", why)
	}
	c.end = int64(len(line))
	for {
		e, err := readEntry(in)
		if err != nil {
			break // what a crash has left
		}
		c.known[flightKey(e[4:entryHead])] = place{c.end + int64(entryHead), len(e) - entryHead - entryTail}
		c.end += int64(len(e))
	}
	return c.file.Truncate(c.end)
}

// readEntry reads the bytes of a flight.
func readEntry(in *bufio.Reader) ([]byte, error) {
	head, err := in.Peek(4)
	if err != nil {
		return nil, err
	}
	n := binary.LittleEndian.Uint32(head)
	if n > maxResult {
		return nil, errors.New("too long")
	}
	var e bytes.Buffer
	if _, err := io.CopyN(&e, in, int64(entryHead)+int64(n)+entryTail); err != nil {
		return nil, err
	}
	b := e.Bytes()
	if crc32.Checksum(b[:len(b)-entryTail], castagnoli) != binary.LittleEndian.Uint32(b[len(b)-entryTail:]) {
		return nil, errors.New("wrong checksum")
	}
	return b, nil
}

func (c *Checkpoint) append(b []byte) error {
	if _, err := c.file.WriteAt(b, c.end); err != nil {
		return err
	}
	c.end += int64(len(b))
	return nil
}

// keep adds what came of a flight.
func (c *Checkpoint) keep(key flightKey, f *Flown) error {
	packed, err := (&result{Flown: []Flown{*f}}).encode()
	if err != nil {
		return err
	}
	at := place{c.end + int64(entryHead), len(packed)}
	b := append(binary.LittleEndian.AppendUint32(nil, uint32(len(packed))), key[:]...)
	b = append(b, packed...)
	if err := c.append(binary.LittleEndian.AppendUint32(b, crc32.Checksum(b, castagnoli))); err != nil {
		return err
	}
	c.known[key] = at
	return nil
}

// flown gives what came of a flight.
func (c *Checkpoint) flown(at place) (*Flown, error) {
	b := make([]byte, at.size)
	if _, err := c.file.ReadAt(b, at.at); err != nil {
		return nil, err
	}
	r, err := decodeResult(b, 1)
	if err != nil {
		return nil, err
	}
	return &r.Flown[0], nil
}

// Known is how many flights are in the file.
func (c *Checkpoint) Known() int {
	if c == nil {
		return 0
	}
	return len(c.known)
}

// Close closes the file.
func (c *Checkpoint) Close() error {
	if c == nil {
		return nil
	}
	return c.file.Close()
}

// Judged flies and judges as Judged does, but for flights that are known; rec is nil for them. what tells what flight i is: the same
// text for the same flight, whenever it is flown.
func (c *Checkpoint) Judged(ctx context.Context, b *run.Bench, n int, what func(i int) string, next func(i int) run.Flight, done func(i int, rec *harness.Record, f *Flown) error) error {
	fresh := func(i int, rec *harness.Record, v harness.Verdict) error {
		return done(i, rec, &Flown{Verdict: v, Landed: dispersion.Places(rec)})
	}
	if c == nil {
		return Judged(ctx, b, n, next, fresh)
	}
	keys, todo := make([]flightKey, n), []int{}
	for i := range keys {
		sum := sha256.Sum256([]byte(what(i)))
		keys[i] = flightKey(sum[:])
		if _, there := c.known[keys[i]]; !there {
			todo = append(todo, i)
		}
	}
	at := 0
	until := func(i int) error { // passes on what is known before flight i
		for ; at < i; at++ {
			f, err := c.flown(c.known[keys[at]])
			if err == nil {
				err = done(at, nil, f)
			}
			if err != nil {
				return err
			}
		}
		return ctx.Err()
	}
	err := Judged(ctx, b, len(todo), func(k int) run.Flight { return next(todo[k]) }, func(k int, rec *harness.Record, v harness.Verdict) error {
		i := todo[k]
		if err := until(i); err != nil {
			return err
		}
		at = i + 1
		f := Flown{Verdict: v, Landed: dispersion.Places(rec)}
		// Kept after it was passed on: a record that is to be written is there when a flight is known. A flight at which done ends
		// the command is known, too.
		err := done(i, rec, &f)
		return errors.Join(err, c.keep(keys[i], &f))
	})
	if err != nil {
		return err
	}
	return until(n)
}
