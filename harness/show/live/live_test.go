package live

import (
	"bufio"
	"context"
	"io"
	"net"
	"net/http"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"drystage/harness"
	"drystage/sim"
)

func serve(t *testing.T, address, token string) (*Server, *Hub, *atomic.Int32) {
	h, stops := NewHub(1, 0), &atomic.Int32{}
	s, err := Serve(h, address, token, func() { stops.Add(1) })
	require.NoError(t, err)
	t.Cleanup(func() { s.Close() })
	return s, h, stops
}

func ask(t *testing.T, method, url string, header map[string]string) (int, string) {
	r, err := http.NewRequestWithContext(t.Context(), method, url, nil)
	require.NoError(t, err)
	for k, v := range header {
		if k == "Host" {
			r.Host = v
		}
		r.Header.Set(k, v)
	}
	out, err := http.DefaultClient.Do(r)
	require.NoError(t, err)
	defer out.Body.Close()
	b, err := io.ReadAll(out.Body)
	require.NoError(t, err)
	return out.StatusCode, string(b)
}

// Only the page itself stops the run; pages of others, and names that only lead here, don't.
func TestOnlyThePageStopsTheRun(t *testing.T) {
	s, _, stops := serve(t, "127.0.0.1:0", "")
	own := strings.TrimSuffix(s.URL(), "/")
	for _, c := range []struct {
		reason, method, path string
		header               map[string]string
		want                 int
		stops                int32
	}{
		{"the page is there", "GET", "/", nil, 200, 0},
		{"nothing else is", "GET", "/x", nil, 404, 0},
		{"to look is not to stop", "GET", "/stop", nil, 405, 0},
		{"no origin", "POST", "/stop", nil, 403, 0},
		{"another page's origin", "POST", "/stop", map[string]string{"Origin": "http://evil.example"}, 403, 0},
		{"another port's origin", "POST", "/stop", map[string]string{"Origin": "http://127.0.0.1:1"}, 403, 0},
		{"a name that leads here", "POST", "/stop", map[string]string{"Host": "evil.example", "Origin": "http://evil.example"}, 403, 0},
		{"a name that leads here may not read either", "GET", "/", map[string]string{"Host": "evil.example"}, 403, 0},
		{"the page itself", "POST", "/stop", map[string]string{"Origin": own}, 204, 1},
	} {
		code, _ := ask(t, c.method, own+c.path, c.header)
		assert.Equal(t, c.want, code, c.reason)
		assert.Equal(t, c.stops, stops.Load(), c.reason)
	}
}

// An address that others can reach wants a token, in every request.
func TestOthersNeedAToken(t *testing.T) {
	for _, token := range []string{"", "short"} {
		_, err := Serve(NewHub(1, 0), "0.0.0.0:0", token, nil)
		assert.ErrorIs(t, err, ErrToken, token)
	}
	_, err := Serve(NewHub(1, 0), "nonsense", "", nil)
	assert.ErrorContains(t, err, "HOST:PORT")
	token := NewToken()
	s, _, stops := serve(t, "0.0.0.0:0", token)
	_, port, _ := net.SplitHostPort(s.listen.Addr().String())
	own := "http://127.0.0.1:" + port
	for _, c := range []struct {
		method, path string
		want         int
	}{{"GET", "/", 403}, {"GET", "/?token=" + token[1:], 403}, {"GET", "/events", 403}, {"POST", "/stop", 403}, {"GET", "/?token=" + token, 200}, {"POST", "/stop?token=" + token, 204}} {
		code, _ := ask(t, c.method, own+c.path, map[string]string{"Origin": own})
		assert.Equal(t, c.want, code, c.path)
	}
	assert.Equal(t, int32(1), stops.Load())
}

// A reader that takes nothing doesn't delay what tells, and what is no longer kept is missing, not repeated.
func TestASlowReaderDelaysNobody(t *testing.T) {
	s, h, _ := serve(t, "127.0.0.1:0", "")
	c, err := net.Dial("tcp", s.listen.Addr().String())
	require.NoError(t, err)
	defer c.Close()
	_, err = io.WriteString(c, "GET /events HTTP/1.1\r\nHost: "+s.listen.Addr().String()+"\r\n\r\n")
	require.NoError(t, err)
	text := strings.Repeat("x", 500)
	const n = 3 * mostMessages
	began := time.Now()
	for i := range n { // 30 MB, far more than the socket takes
		h.tell(map[string]any{"text": text, "n": i})
	}
	assert.Less(t, time.Since(began), 20*time.Second, "it would never end if it waited for the reader")
	list, next, _, _ := h.since(0)
	assert.Equal(t, n, next)
	assert.LessOrEqual(t, len(list), mostMessages)
	assert.Contains(t, string(list[len(list)-1]), `"n":59999`)
	again, _, _, _ := h.since(next)
	assert.Empty(t, again)
}

// steps is a source of ticks.
type steps struct{ n int }

func (s *steps) Step([]sim.Output) (*sim.Tick, bool) {
	s.n++
	t := &sim.Tick{Now: sim.Time(s.n) * sim.Second, States: make([]sim.State, 1)}
	t.States[0].Position.Z = float64(s.n)
	if s.n == 2 {
		t.Events = []sim.Event{{Name: "apogee", At: 2 * sim.Second}}
	}
	return t, s.n < 4
}

// What passes through a watched source is told: windows as soon as their events are known, edges, events, verdicts.
func TestWatch(t *testing.T) {
	s, h, _ := serve(t, "127.0.0.1:0", "")
	rec := &harness.Record{Plan: harness.Plan{Name: "<b>x</b>", Title: "t"}}
	p := &rec.Plan
	p.Setup.Vehicle.Stages = []sim.Stage{{Name: "top"}}
	p.Setup.Bays = []sim.Bay{{Name: "top", Wires: []sim.Wire{{Channel: 3, Name: "drogue"}}}}
	out := harness.Channel{Channel: 3, Name: "top.drogue"}
	p.Expect = []harness.Expectation{
		{Kind: harness.Fires, Text: "fires", Output: out, From: sim.Anchor{Event: "apogee"}, To: sim.Anchor{Event: "apogee", Offset: sim.Second}},
		{Kind: harness.Never, Text: "never", Output: out, HasTo: true, To: sim.Anchor{Event: "apogee"}},
	}
	w := h.Watch(rec, &steps{})
	w.Step(nil)
	w.Step([]sim.Output{{Channel: 3, On: true, At: sim.Second}, {Channel: 9, On: true}})
	rec.Reports = append(rec.Reports, harness.Report{Height: 77})
	for ok := true; ok; {
		_, ok = w.Step(nil)
	}
	h.Verdict(&harness.Verdict{Name: "x", Answer: harness.Fail, Findings: []harness.Finding{{Answer: harness.Fail, Text: "fires", Reason: "late"}}})
	h.End()
	ctx, cancel := context.WithTimeout(t.Context(), 20*time.Second)
	defer cancel()
	r, err := http.NewRequestWithContext(ctx, "GET", s.URL()+"events", nil)
	require.NoError(t, err)
	a, err := http.DefaultClient.Do(r)
	require.NoError(t, err)
	defer a.Body.Close()
	var got []string
	for in := bufio.NewScanner(a.Body); in.Scan(); {
		if m, ok := strings.CutPrefix(in.Text(), "data: "); ok {
			got = append(got, m)
		}
	}
	all := strings.Join(got, "\n")
	for _, want := range []string{
		`{"scene":{"Name":"\u003cb\u003ex\u003c/b\u003e"`, `"Outputs":["top.drogue"]`,
		`{"id":1,"need":{"Output":0,"Never":true,"From":0,"To":1000000,"Text":"never"}}`,
		`{"edge":{"Output":0,"On":true,"T":1}}`, `{"event":{"Name":"apogee","T":2}}`,
		`{"id":0,"need":{"Output":0,"Never":false,"From":2,"To":3,"Text":"fires"}}`, `{"id":1,"need":{"Output":0,"Never":true,"From":0,"To":2,"Text":"never"}}`,
		`"Height":77`, `"Answer":"fail"`, `"Why":"late"`, `{"end":true}`,
	} {
		assert.Contains(t, all, want)
	}
	assert.NotContains(t, all, `"Output":-1`)
	assert.Less(t, strings.Index(all, `"need":{"Output":0,"Never":true`), strings.Index(all, `"edge"`), "known before the run has begun")
}

// A run that isn't paced by itself is slowed to so many simulated seconds a second, and not at all if nobody asks for it.
func TestPace(t *testing.T) {
	took := func(speed float64) time.Duration {
		began := time.Now()
		w := NewHub(1, speed).Watch(&harness.Record{}, &steps{})
		for ok := true; ok; {
			_, ok = w.Step(nil)
		}
		return time.Since(began)
	}
	assert.GreaterOrEqual(t, took(16), 245*time.Millisecond, "4 s at 16 s a second")
	assert.Less(t, took(0), took(4), "at once, or a second")
}
