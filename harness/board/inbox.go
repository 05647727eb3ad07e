package board

import (
	"errors"
	"os"
	"sync"
	"time"

	"drystage/harness/board/link"
	"drystage/harness/board/session"
	"drystage/sim"
)

// chunk is what one Read gave, and when.
type chunk struct {
	bytes []byte
	came  sim.Time
	err   error
}

// inbox reads a link as soon as bytes come, so that their time is known, and gives them without waiting. All its
// memory is allocated at the start.
type inbox struct {
	link    link.Link
	now     func() sim.Time
	instant bool
	full    chan *chunk
	free    chan *chunk
	stop    chan struct{}
	reader  sync.WaitGroup
}

const chunks = 256 // of 512 bytes: 128 KiB, ten seconds of a line at 115200 baud

func newInbox(l link.Link, now func() sim.Time) *inbox {
	b := &inbox{link: l, now: now, instant: link.Instant(l), full: make(chan *chunk, chunks), free: make(chan *chunk, chunks), stop: make(chan struct{})}
	for range chunks {
		b.free <- &chunk{bytes: make([]byte, 0, 512)}
	}
	if !b.instant {
		b.reader.Go(b.read)
	}
	return b
}

// read runs until the link fails or the inbox is closed.
func (b *inbox) read() {
	for {
		var p *chunk
		select {
		case p = <-b.free:
		case <-b.stop:
			return
		}
		for !b.readOnce(p) {
			select {
			case <-b.stop:
				return
			default:
			}
		}
		b.full <- p // never blocks: there is room for all chunks
		if p.err != nil {
			return
		}
	}
}

// readOnce reads once; false: nothing came in time.
func (b *inbox) readOnce(p *chunk) bool {
	if !b.instant {
		if p.err = b.link.SetReadDeadline(time.Now().Add(session.ContextCheck)); p.err != nil {
			return true
		}
	}
	var n int
	n, p.err = b.link.Read(p.bytes[:cap(p.bytes)])
	p.came, p.bytes = b.now(), p.bytes[:n]
	return n > 0 || !errors.Is(p.err, os.ErrDeadlineExceeded)
}

// next gives what has come, or nil. The caller returns it by done.
func (b *inbox) next() *chunk {
	if b.instant {
		p := <-b.free
		if b.readOnce(p) {
			return p
		}
		b.free <- p
		return nil
	}
	select {
	case p := <-b.full:
		return p
	default:
		return nil
	}
}

func (b *inbox) done(p *chunk) { b.free <- p }

// close ends the reading goroutine; the link must be closed before.
func (b *inbox) close() {
	close(b.stop)
	b.reader.Wait()
}
