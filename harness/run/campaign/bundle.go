package campaign

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"io"
	"regexp"
	"slices"
	"time"

	"github.com/klauspost/compress/zstd"

	"drystage/harness"
	"drystage/harness/files/scenario"
	"drystage/harness/run"
	"drystage/harness/vary"
)

// Limits of what comes from outside.
const (
	maxPacked   = 16 << 20 // bytes of a bundle
	maxUnpacked = 64 << 20 // bytes of its content
	maxFlights  = 10_000_000
	maxBatch    = 64
)

// Records says which records workers send back beside the verdicts.
type Records string

// The choices of Records.
const (
	NoRecords  Records = ""
	AllRecords Records = "all"
)

// Bundle is all that a worker needs for a campaign: it reads no file of the sender's, and writes none. Its name is the
// SHA-256 of its bytes.
type Bundle struct {
	Made    harness.Maker // the program of the sender; workers must be the same
	Plans   []Source
	Flights int  // of each plan
	Drawn   bool // each flight is drawn from the ranges of its plan; else it is the plan as it stands
	First   int  // the first of the drawn flights, counted from 1; 0 is 1, too
	Points  harness.Points
	Cases   []Case // the flights of the only plan, with chosen values; none: as Drawn says
	Batch   int    // flights that are handed out at once

	Boards      []string      // each ADDR or ROLE=ADDR of a built-in board; none: the built-in board
	StandIn     bool          // the built-in board stands for boards with an NMEA input, or with a clock that can't be driven
	Bench       string        // the bench whose boards fly; empty: built-in boards, wherever there is a processor
	GiveBack    bool          // a batch whose bench went away during its flight is flown again; else it is unsure
	Timeout     time.Duration // of an answer
	AnswerLimit time.Duration
	RealTime    bool
	LateLimit   time.Duration
	Records     Records
	// Once tells apart campaigns whose results may differ from one time to the next, on a real bench. Without it, results
	// that lie at the queue from an earlier time are the same to the bit, and are used.
	Once string
}

// Source is what a plan is made of.
type Source struct {
	File  string // the path of the scenario's file
	Files []harness.File
	Seed  uint64
}

// Case is a flight with chosen values in place of drawn ones, and without some faults, by their names.
type Case struct {
	Seed    uint64
	Values  []harness.Value
	Without []string
}

// Plan gives the plan of a case.
func (c *Case) Plan(p *harness.Plan) harness.Plan {
	out := vary.Apply(p, p.Vary, c.Values)
	out.Setup.Seed = c.Seed
	return vary.Without(&out, c.Without)
}

// SourceOf takes a plan apart. A plan that plays a flight log has only the log's digest, and can't be sent.
func SourceOf(p *harness.Plan) (Source, error) {
	if p.Log.File != "" {
		return Source{}, fmt.Errorf("%s plays the flight log %s, which stays on this computer: fly it without a queue", p.File, p.Log.File)
	}
	return Source{File: p.File, Files: p.Files, Seed: p.Setup.Seed}, nil
}

// All is how many flights the campaign has.
func (b *Bundle) All() int { return b.Flights * len(b.Plans) }

// batches is how many batches it is handed out in.
func (b *Bundle) batches() int { return (b.All() + b.Batch - 1) / b.Batch }

// flights gives the first flight of a batch and the one after its last.
func (b *Bundle) flights(batch int) (from, to int) {
	return batch * b.Batch, min((batch+1)*b.Batch, b.All())
}

// plan gives the plan of flight i, from the plans of the sources.
func (b *Bundle) plan(plans []harness.Plan, i int) harness.Plan {
	p := &plans[i/b.Flights]
	switch {
	case len(b.Cases) > 0:
		return b.Cases[i].Plan(p)
	case b.Drawn:
		return vary.Plan(p, i%b.Flights+max(b.First, 1), b.Points)
	}
	return *p
}

// need is who can fly it, as a word of a subject.
func (b *Bundle) need() string {
	if b.Bench != "" {
		return "bench-" + b.Bench
	}
	return anyWorker
}

// anyWorker is the need of a campaign for built-in boards.
const anyWorker = "any"

var benchName = regexp.MustCompile(`^[a-z0-9][a-z0-9-]{0,40}$`)

// CheckBench refuses a name that isn't one of a bench.
func CheckBench(name string) error {
	if !benchName.MatchString(name) {
		return fmt.Errorf("bench %s: wanted lower-case letters, digits and hyphens, at most 41", harness.Printable(name))
	}
	return nil
}

// encode gives the bundle's bytes and their name.
func (b *Bundle) encode() (packed []byte, name string, err error) {
	text, err := json.Marshal(b)
	if err != nil {
		return nil, "", err
	}
	if len(text) > maxUnpacked {
		return nil, "", fmt.Errorf("the campaign's files are %d bytes, more than the %d that workers take", len(text), maxUnpacked)
	}
	packed, err = pack(text)
	return packed, digest(packed), err
}

func digest(b []byte) string {
	sum := sha256.Sum256(b)
	return hex.EncodeToString(sum[:])
}

// decode reads a bundle that came from outside, and makes its plans. Its error is the reason to refuse it.
func decode(packed []byte, name string) (*Bundle, []harness.Plan, error) {
	if got := digest(packed); got != name {
		return nil, nil, fmt.Errorf("its bytes have the digest %.12s, but its name says %.12s", got, name)
	}
	text, err := unpack(packed, maxUnpacked)
	if err != nil {
		return nil, nil, err
	}
	var of struct{ Made harness.Maker }
	if err := json.Unmarshal(text, &of); err == nil {
		if why := sameProgram(&of.Made); of.Made.Version != "" && why != "" { // another version's bundle may have other keys
			return nil, nil, otherProgramError{why}
		}
	}
	var b Bundle
	in := json.NewDecoder(bytes.NewReader(text))
	in.DisallowUnknownFields()
	if err := in.Decode(&b); err != nil {
		return nil, nil, fmt.Errorf("it can't be read: %w", err)
	}
	if err := b.check(); err != nil {
		return nil, nil, err
	}
	plans, err := b.plans()
	return &b, plans, err
}

// pack compresses bytes.
func pack(b []byte) ([]byte, error) {
	w, err := zstd.NewWriter(nil, zstd.WithEncoderLevel(zstd.SpeedFastest), zstd.WithEncoderConcurrency(1))
	if err != nil {
		return nil, err
	}
	return w.EncodeAll(b, nil), w.Close()
}

// unpack decompresses at most so many bytes.
func unpack(packed []byte, most int) ([]byte, error) {
	r, err := zstd.NewReader(bytes.NewReader(packed), zstd.WithDecoderConcurrency(1), zstd.WithDecoderMaxMemory(uint64(most)))
	if err != nil {
		return nil, err
	}
	defer r.Close()
	out, err := io.ReadAll(io.LimitReader(r, int64(most)+1))
	if err != nil {
		return nil, fmt.Errorf("it can't be unpacked: %w", err)
	}
	if len(out) > most {
		return nil, fmt.Errorf("it is more than %d bytes when unpacked", most)
	}
	return out, nil
}

// check refuses what a worker must not do for anybody.
func (b *Bundle) check() error {
	switch {
	case len(b.Plans) == 0 || b.Flights < 1 || len(b.Plans) > maxFlights/b.Flights:
		return fmt.Errorf("it has %d plans with %d flights each: wanted 1 to %d flights", len(b.Plans), b.Flights, maxFlights)
	case len(b.Cases) > 0 && (b.Drawn || len(b.Plans) != 1 || len(b.Cases) != b.Flights):
		return fmt.Errorf("it has %d cases for %d plans with %d flights", len(b.Cases), len(b.Plans), b.Flights)
	case b.First < 0 || b.First > 0 && !b.Drawn || b.First > maxFlights:
		return fmt.Errorf("it begins with flight %d: wanted 1 to %d, of drawn ones", b.First, maxFlights)
	case b.Batch < 1 || b.Batch > maxBatch:
		return fmt.Errorf("it has batches of %d flights: wanted 1 to %d", b.Batch, maxBatch)
	case b.Records != NoRecords && b.Records != AllRecords:
		return fmt.Errorf("it wants the records %s: wanted none or all", harness.Printable(string(b.Records)))
	case b.Bench != "":
		return CheckBench(b.Bench)
	case b.RealTime:
		return fmt.Errorf("it wants real time without a bench of its own")
	}
	return run.BuiltInOnly(b.Boards)
}

// plans makes the plans of the sources, in memory.
func (b *Bundle) plans() ([]harness.Plan, error) {
	out := make([]harness.Plan, len(b.Plans))
	for i, s := range b.Plans {
		p, problems := scenario.Again(s.Files, s.File)
		if len(problems) > 0 {
			return nil, fmt.Errorf("its file %s: %s", harness.Printable(s.File), problems[0].Error())
		}
		if p.Log.File != "" {
			return nil, fmt.Errorf("its file %s plays a flight log of this computer", harness.Printable(s.File))
		}
		p.Setup.Seed = s.Seed
		if b.StandIn {
			p = StandIn(&p)
		}
		out[i] = p
	}
	return out, nil
}

// StandIn gives a plan for the built-in board in place of its boards: without an NMEA input, and with a clock that can be
// driven, whatever their files say.
func StandIn(p *harness.Plan) harness.Plan {
	out := *p
	out.Boards = slices.Clone(p.Boards)
	for k := range out.Boards {
		out.Boards[k].NMEA, out.Boards[k].Lockstep = harness.NMEA{}, true
	}
	return out
}

// otherProgramError says that a bundle is for a worker of another version.
type otherProgramError struct{ why string }

// Error gives its text.
func (e otherProgramError) Error() string { return e.why }

// sameProgram says why the program of a bundle isn't this one; empty: it is.
func sameProgram(made *harness.Maker) string {
	own := run.Maker()
	if own.SameProgram(made) {
		return ""
	}
	return fmt.Sprintf("it is of drystage %s (%s, %s), this one is %s (%s, %s)", made.Version, made.Go, made.Arch, own.Version, own.Go, own.Arch)
}
