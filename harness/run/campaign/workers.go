package campaign

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"slices"
	"strings"
	"time"

	"github.com/nats-io/nats.go/jetstream"
	"github.com/nats-io/nuid"

	"drystage/harness"
	"drystage/harness/run"
)

// Present is a worker that is at the queue.
type Present struct {
	Name   string        `json:"name"`
	Host   string        `json:"host"`
	Made   harness.Maker `json:"program"`
	Jobs   int           `json:"jobs"`
	Bench  string        `json:"bench,omitempty"`
	Boards []string      `json:"boards,omitempty"` // of the bench, as its command line has them
	Rig    string        `json:"rig,omitempty"`
	Able
	Since string `json:"since"` // RFC 3339
}

// Able is what a bench can do, and who answers for it.
type Able struct {
	RealTime bool     `json:"real_time_only,omitempty"` // its boards' clocks can't be driven
	Pins     []string `json:"pins,omitempty"`           // of the rig: outputs whose edges are timed at a pin
	Firmware []string `json:"firmware,omitempty"`       // of its boards: the SHA-256 of the program's file, or what a board called itself last
	Inert    string   `json:"inert,omitempty"`          // who confirmed that the boards are inert, where, and when
}

// flies says whether a worker can fly a campaign.
func (p *Present) flies(b *Bundle) bool {
	return p.Bench == b.Bench && p.Made.SameProgram(&b.Made)
}

// maxPresent bounds what a worker tells of itself.
const maxPresent = 16 << 10

// Workers lists who is at the queue, by name.
func (q *Queue) Workers(ctx context.Context) ([]Present, error) {
	bucket, err := q.js.KeyValue(ctx, workerBucket)
	if err != nil {
		return nil, err
	}
	keys, err := bucket.Keys(ctx)
	if errors.Is(err, jetstream.ErrNoKeysFound) {
		return nil, nil
	}
	if err != nil {
		return nil, err
	}
	var out []Present
	for _, k := range keys {
		e, err := bucket.Get(ctx, k)
		if errors.Is(err, jetstream.ErrKeyNotFound) || err == nil && len(e.Value()) > maxPresent {
			continue
		}
		if err != nil {
			return nil, err
		}
		var p Present
		if json.NewDecoder(bytes.NewReader(e.Value())).Decode(&p) == nil {
			out = append(out, p)
		}
	}
	slices.SortFunc(out, func(a, b Present) int { return strings.Compare(a.Name+a.Since, b.Name+b.Since) })
	return out, nil
}

// announce tells the queue every now and then that this worker is there.
func (w *Worker) announce(ctx context.Context) {
	p := Present{
		Name: w.Name, Host: run.Hostname(), Made: run.Maker(), Jobs: w.Jobs, Bench: w.Bench,
		Since: time.Now().UTC().Format(time.RFC3339),
	}
	if w.Bench != "" {
		p.Boards, p.Rig, p.Jobs, p.Able = w.Options.Boards, w.Options.Rig, 1, w.Able
	}
	key := nuid.Next()
	for {
		p.Firmware = w.firmware()
		text, _ := json.Marshal(&p) // plain text: it can't fail
		put := func() error {
			bucket, err := w.Queue.js.KeyValue(ctx, workerBucket)
			if err == nil {
				_, err = bucket.Put(ctx, key, text)
			}
			return err
		}
		_ = again(ctx, put)
		select {
		case <-ctx.Done():
			w.leave(key)
			return
		case <-time.After(away / 4):
		}
	}
}

// firmware is what runs on the boards, as far as it is known.
func (w *Worker) firmware() []string {
	w.mu.Lock()
	defer w.mu.Unlock()
	return append(slices.Clone(w.Able.Firmware), w.named...)
}

// meet notes what the boards of a flight called themselves.
func (w *Worker) meet(rec *harness.Record) {
	if w.Bench == "" {
		return
	}
	var named []string
	for i := range rec.Health {
		if h := &rec.Health[i]; h.Name != "" && i < len(rec.Plan.Boards) {
			named = append(named, rec.Plan.Boards[i].Role+" calls itself "+h.Name)
		}
	}
	w.mu.Lock()
	defer w.mu.Unlock()
	w.named = named
}

// leave takes this worker off the list.
func (w *Worker) leave(key string) {
	ctx, stop := context.WithTimeout(context.Background(), time.Second)
	defer stop()
	if bucket, err := w.Queue.js.KeyValue(ctx, workerBucket); err == nil {
		_ = bucket.Purge(ctx, key)
	}
}
