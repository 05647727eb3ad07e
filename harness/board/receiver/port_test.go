package receiver

import (
	"errors"
	"os"
	"strings"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"drystage/harness/board/link"
	"drystage/sim"
)

// sink is a link whose other end takes sets as long as it has room for them.
type sink struct {
	room   chan struct{} // a Write waits for one of these
	closed chan struct{}
	once   sync.Once
	fail   error

	mu  sync.Mutex
	got []string
}

func newSink(room int) *sink {
	s := &sink{room: make(chan struct{}, 1<<16), closed: make(chan struct{})}
	for range room {
		s.room <- struct{}{}
	}
	return s
}

func (s *sink) Write(b []byte) (int, error) {
	if s.fail != nil {
		return 0, s.fail
	}
	select {
	case <-s.room:
	case <-s.closed:
		return 0, os.ErrClosed
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	s.got = append(s.got, string(b))
	return len(b), nil
}

func (s *sink) Read([]byte) (int, error)        { <-s.closed; return 0, os.ErrClosed }
func (s *sink) Close() error                    { s.once.Do(func() { close(s.closed) }); return nil }
func (s *sink) SetReadDeadline(time.Time) error { return nil }

func (s *sink) text() string {
	s.mu.Lock()
	defer s.mu.Unlock()
	return strings.Join(s.got, "")
}

func TestAPortThatIsRead(t *testing.T) {
	for _, wait := range []bool{true, false} {
		synctest.Test(t, func(t *testing.T) {
			s := newSink(100)
			p := New(s, "tcp:here:1")
			p.begin()
			for _, w := range []string{"a", "b", "c"} {
				require.True(t, p.send([]byte(w), 0, wait))
				if wait {
					assert.True(t, strings.HasSuffix(s.text(), w), "in lockstep it is out before the board is asked")
				}
			}
			h := p.Health()
			assert.Equal(t, "abc", s.text(), "in order, wait %v", wait)
			assert.Equal(t, 3, h.Sent)
			assert.Zero(t, h.Lost)
			assert.Empty(t, h.Cause)
			assert.Equal(t, "tcp:here:1", h.Address)
			p.begin()
			assert.Zero(t, p.Health().Sent, "another run")
			require.NoError(t, p.Close())
			require.NoError(t, p.Close(), "twice is fine")
		})
	}
}

// A port that nobody reads delays a lockstep run by MaxWait once, and a real-time run not at all.
func TestAPortThatNobodyReads(t *testing.T) {
	for _, c := range []struct {
		reason string
		wait   bool
		cost   time.Duration
	}{{"lockstep", true, MaxWait}, {"real time", false, 0}} {
		synctest.Test(t, func(t *testing.T) {
			s := newSink(5)
			p := New(s, "tcp:here:1")
			p.begin()
			began := time.Now()
			for range 5 {
				require.True(t, p.send([]byte("a"), 0, c.wait))
				synctest.Wait()
			}
			room := 0
			for range 100 {
				if p.send([]byte("b"), 9*sim.Second, c.wait) {
					room++
				}
				synctest.Wait()
			}
			assert.Equal(t, c.cost, time.Since(began), c.reason)
			assert.Equal(t, queueSize+1, room, "%s: as many wait, and one is stuck in the link", c.reason)
			began = time.Now()
			h := p.Health()
			assert.LessOrEqual(t, time.Since(began), MaxWait, c.reason)
			assert.Equal(t, 5, h.Sent, c.reason)
			assert.Equal(t, 100, h.Lost, c.reason)
			assert.Equal(t, "nobody reads it, or its line is too slow", h.Cause, c.reason)
			require.NoError(t, p.Close(), "and it can be closed")
		})
	}
}

// A port that is slow for a time loses nothing if it catches up.
func TestAPortThatHesitates(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s := newSink(0)
		p := New(s, "x")
		defer p.Close()
		p.begin()
		go func() {
			time.Sleep(MaxWait / 4)
			for range 10 {
				s.room <- struct{}{}
			}
		}()
		began := time.Now()
		for range 10 {
			require.True(t, p.send([]byte("a"), 0, true))
		}
		assert.Equal(t, MaxWait/4, time.Since(began))
		h := p.Health()
		assert.Equal(t, [2]int{10, 0}, [2]int{h.Sent, h.Lost})
	})
}

// A serial line is as slow as it is: a run in lockstep waits for it, but not for one that can't carry the
// sentences as fast as the flight makes them.
func TestAPortOfASlowLine(t *testing.T) {
	for _, c := range []struct {
		reason string
		each   time.Duration // that a set takes, of those that come every 100 ms
		lost   bool
	}{{"as slow as the flight", 100 * time.Millisecond, false}, {"slower by far", 900 * time.Millisecond, true}} {
		synctest.Test(t, func(t *testing.T) {
			s := newSink(0)
			p := New(s, "x")
			defer p.Close()
			p.begin()
			done := make(chan struct{})
			defer close(done)
			go func() {
				for {
					select {
					case <-time.After(c.each):
						s.room <- struct{}{}
					case <-done:
						return
					}
				}
			}()
			began, lost := time.Now(), 0
			for k := range 300 {
				if !p.send([]byte("a"), sim.Time(k)*100*sim.Millisecond, true) {
					lost++
				}
			}
			took := time.Since(began)
			assert.LessOrEqual(t, took, 30*time.Second+2*MaxWait, c.reason)
			assert.Equal(t, c.lost, lost > 0, c.reason)
			if !c.lost {
				assert.Equal(t, 300, p.Health().Sent, c.reason)
			}
		})
	}
}

func TestAPortThatIsGone(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s := newSink(0)
		s.fail = errors.Join(link.ErrGone, errors.New("hung up"))
		p := New(s, "x")
		defer p.Close()
		p.begin()
		assert.True(t, p.send([]byte("a"), 0, true), "the first finds out")
		assert.False(t, p.send([]byte("a"), 0, true))
		h := p.Health()
		assert.Equal(t, [2]int{0, 2}, [2]int{h.Sent, h.Lost})
		assert.Contains(t, h.Cause, "port gone")
		p.begin()
		assert.False(t, p.send([]byte("a"), 0, false), "and it stays so")
		assert.Contains(t, p.Health().Cause, "port gone")
	})
}

func TestAddressesOfPorts(t *testing.T) {
	for _, c := range []struct{ address, want string }{
		{"exec:cat", "a port starts no program"},
		{"tpc:here:1", `did you mean`},
		{"unix:", "ends too early"},
	} {
		assert.ErrorContains(t, Check(c.address), c.want, c.address)
	}
	assert.NoError(t, Check("unix:x"))
}
