package board

import (
	"sync"
	"time"
)

// HostLatency measures how late this computer is with its work. A goroutine sleeps for short times; if it wakes up
// late, a board's program and this one may have been as late.
type HostLatency struct {
	mu   sync.Mutex
	due  time.Time // when it should wake up
	late [historySize]lateness
	next int
	stop chan struct{}
}

type lateness struct {
	woke time.Time
	late time.Duration
}

const (
	nap         = 2 * time.Millisecond
	historySize = 2048            // four seconds
	recentTime  = 1 * time.Second // before a time, to judge how busy the computer was
)

// WatchHostLatency begins to measure, until Close.
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
		h.next = (h.next + 1) % historySize
		h.due = now.Add(nap)
		h.mu.Unlock()
	}
}

// Worst is the greatest latency since a time, or in the second before it. A present delay is included.
func (h *HostLatency) Worst(since time.Time) time.Duration {
	h.mu.Lock()
	defer h.mu.Unlock()
	worst := max(time.Since(h.due), 0)
	for _, l := range h.late {
		if !l.woke.Before(since.Add(-recentTime)) {
			worst = max(worst, l.late)
		}
	}
	return worst
}

// Close ends the measurement.
func (h *HostLatency) Close() { close(h.stop) }
