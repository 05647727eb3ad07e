// Package live shows a run in a browser while it goes on: true flight, outputs against their windows, what boards report, the
// health of their links, and verdicts. The run only adds short messages to a list and never waits for a reader: whoever reads
// too slowly misses some. A page can ask for the run to be stopped, in the same way as Ctrl-C.
package live

import (
	"encoding/json"
	"math"
	"sync"
)

// mostMessages is how many messages of a run are kept for those who come late or read slowly.
const mostMessages = 20000

// Hub holds the messages of a run for all readers.
type Hub struct {
	mu     sync.Mutex
	first  int // number of the oldest message kept
	list   [][]byte
	more   chan struct{} // closed when there is more
	ended  bool
	scenes int
	of     int
	speed  float64
}

// NewHub makes a hub for a run of so many scenarios. A run that isn't paced by itself is slowed to speed simulated seconds per
// second; 0: it isn't slowed.
func NewHub(scenarios int, speed float64) *Hub {
	return &Hub{more: make(chan struct{}), of: scenarios, speed: speed}
}

// tell adds a message; it holds the lock only to append.
func (h *Hub) tell(message any) {
	b, err := json.Marshal(message)
	if err != nil { // a number that is none
		return
	}
	h.mu.Lock()
	defer h.mu.Unlock()
	if len(h.list) >= mostMessages {
		h.first, h.list = h.first+mostMessages/2, append([][]byte(nil), h.list[mostMessages/2:]...)
	}
	h.list = append(h.list, b)
	close(h.more)
	h.more = make(chan struct{})
}

// since gives the messages from a number on, the number after them, and what is closed when there are more. Those that are no
// longer kept are missing.
func (h *Hub) since(n int) (list [][]byte, next int, more <-chan struct{}, ended bool) {
	h.mu.Lock()
	defer h.mu.Unlock()
	n = max(n, h.first)
	return h.list[n-h.first:], h.first + len(h.list), h.more, h.ended
}

// End says that no more messages come.
func (h *Hub) End() {
	h.tell(map[string]bool{"end": true})
	h.mu.Lock()
	defer h.mu.Unlock()
	h.ended = true
}

// finite gives a number that JSON can hold.
func finite(x float64) float64 {
	if math.IsNaN(x) || math.IsInf(x, 0) {
		return 0
	}
	return math.Round(x*1000) / 1000
}
