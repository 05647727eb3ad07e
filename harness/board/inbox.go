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

// parcel is what one Read gave, and when.
type parcel struct {
	bytes []byte
	came  sim.Time
	err   error
}

// inbox takes what a link gives as soon as it comes, so that its time is known, and hands it over
// without waiting. All its memory is there from the start.
type inbox struct {
	link    link.Link
	now     func() sim.Time
	instant bool
	full    chan *parcel
	free    chan *parcel
	stop    chan struct{}
	reader  sync.WaitGroup
}

const parcels = 256 // of 512 bytes: 128 KiB, ten seconds of a line at 115200 baud

func newInbox(l link.Link, now func() sim.Time) *inbox {
	b := &inbox{link: l, now: now, instant: link.Instant(l), full: make(chan *parcel, parcels), free: make(chan *parcel, parcels), stop: make(chan struct{})}
	for range parcels {
		b.free <- &parcel{bytes: make([]byte, 0, 512)}
	}
	if !b.instant {
		b.reader.Go(b.read)
	}
	return b
}

// read runs until the link breaks or the inbox is closed.
func (b *inbox) read() {
	for {
		var p *parcel
		select {
		case p = <-b.free:
		case <-b.stop:
			return
		}
		for !b.take(p) {
			select {
			case <-b.stop:
				return
			default:
			}
		}
		b.full <- p // there is a place for each
		if p.err != nil {
			return
		}
	}
}

// take reads once; false says that nothing came in time.
func (b *inbox) take(p *parcel) bool {
	if !b.instant {
		if p.err = b.link.SetReadDeadline(time.Now().Add(session.Glance)); p.err != nil {
			return true
		}
	}
	var n int
	n, p.err = b.link.Read(p.bytes[:cap(p.bytes)])
	p.came, p.bytes = b.now(), p.bytes[:n]
	return n > 0 || !errors.Is(p.err, os.ErrDeadlineExceeded)
}

// next gives what has come, or nil. It is to be given back by done.
func (b *inbox) next() *parcel {
	if b.instant {
		p := <-b.free
		if b.take(p) {
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

func (b *inbox) done(p *parcel) { b.free <- p }

// close ends the reader; the link must be closed first.
func (b *inbox) close() {
	close(b.stop)
	b.reader.Wait()
}
