package board

import (
	"sync"
	"time"
)

// HostLatency watches how late this computer is with what it has to do: a goroutine sleeps for short whiles, and whatever more
// passes than it asked for, a board's program and this one may have had to wait for as well.
type HostLatency struct {
	mu   sync.Mutex
	due  time.Time // when it should wake up next
	late [watched]lateness
	next int
	stop chan struct{}
}

type lateness struct {
	woke time.Time
	late time.Duration
}

const (
	nap     = 2 * time.Millisecond
	watched = 2048            // four seconds
	around  = 1 * time.Second // before a time, that tells how busy the computer was then
)

// WatchHostLatency begins to watch, until Close.
func WatchHostLatency() *HostLatency {
	h := &HostLatency{stop: make(chan struct{}), due: time.Now().Add(nap)}
	go h.watch()
	return h
}

func (h *HostLatency) watch() {
	for {
		select {
		case <-h.stop:
			return
		default:
		}
		time.Sleep(nap)
		h.mu.Lock()
		now := time.Now()
		h.late[h.next] = lateness{now, now.Sub(h.due)}
		h.next = (h.next + 1) % watched
		h.due = now.Add(nap)
		h.mu.Unlock()
	}
}

// Worst is the greatest lateness since a time, or in the second before it. What is late just now counts.
func (h *HostLatency) Worst(since time.Time) time.Duration {
	h.mu.Lock()
	defer h.mu.Unlock()
	worst := max(time.Since(h.due), 0)
	for _, l := range h.late {
		if !l.woke.Before(since.Add(-around)) {
			worst = max(worst, l.late)
		}
	}
	return worst
}

// Close ends the watch.
func (h *HostLatency) Close() { close(h.stop) }
