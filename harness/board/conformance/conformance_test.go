package conformance

import (
	"bytes"
	"context"
	"fmt"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"drystage/harness"
	"drystage/harness/board/boardtest"
	"drystage/harness/board/link"
	"drystage/harness/board/link/linktest"
	"drystage/harness/board/mock"
	"drystage/harness/setting"
)

// Settings that give the mock board and the fakes their outputs.
var (
	mockSets  = []harness.Setting{{Name: "staging_channel", Value: 1}, {Name: "drogue_channel", Value: 2}, {Name: "main_channel", Value: 3}}
	guestSets = []harness.Setting{{Name: boardtest.SettingName, Value: 0.5}}
)

func mockLink(t testing.TB, defect string) link.Link {
	g, err := mock.New(defect)
	require.NoError(t, err)
	return link.Memory(g)
}

func guestLink(flaw boardtest.Flaw) link.Link { return link.Memory(boardtest.NewFake(flaw)) }

// named lists the names of the points with an outcome.
func named(r *Report, o Outcome) (names []string) {
	for _, p := range r.Points {
		if p.Outcome == o {
			names = append(names, p.Name)
		}
	}
	return names
}

func text(r *Report) string {
	var b bytes.Buffer
	_ = Text(&b, r, TextOptions{})
	return b.String()
}

func TestHonestBoardsPass(t *testing.T) {
	for name, c := range map[string]struct {
		l    link.Link
		sets []harness.Setting
	}{
		"the mock":                    {mockLink(t, ""), mockSets},
		"the mock, a byte at a time":  {linktest.OneByte(mockLink(t, "")), mockSets},
		"the guest":                   {guestLink(boardtest.None), guestSets},
		"the guest, a byte at a time": {linktest.OneByte(guestLink(boardtest.None)), guestSets},
	} {
		t.Run(name, func(t *testing.T) {
			r := Run(t.Context(), c.l, Options{Settings: c.sets, Known: setting.Builtin()})
			assert.Equal(t, harness.Pass, r.Answer(), "%s", text(&r))
			assert.Equal(t, len(r.Points), r.Count(Pass))
			for _, p := range r.Points {
				assert.NotEmpty(t, p.Contract, p.Name)
				assert.NotContains(t, p.Contract, "?", "%s quotes what the table has not", p.Name)
				assert.NotEmpty(t, p.Sent, p.Name)
				assert.NotEmpty(t, p.Came, p.Name)
				assert.NotEmpty(t, p.Why, p.Name)
			}
		})
	}
}

// slow hides that a link is instant.
type slow struct{ link.Link }

// TestBounded: tests of boards that are silent, flood, or send noise end in bounded time, without a pass.
func TestBounded(t *testing.T) {
	opt := Options{Timeout: 20 * time.Millisecond, Limit: 10 * time.Second}
	for name, l := range map[string]link.Link{
		"silent":         slow{linktest.Silent(mockLink(t, ""))},
		"silent at once": linktest.Silent(mockLink(t, "")),
		"zeros":          slow{linktest.Flood(mockLink(t, ""), 0)},
		"text":           linktest.Flood(mockLink(t, ""), 'x'),
		"floods":         slow{guestLink(boardtest.Floods)},
		"hangs":          slow{guestLink(boardtest.Hangs)},
		"echo":           slow{link.Memory(echo{})},
	} {
		r := Run(t.Context(), l, opt)
		assert.Equal(t, harness.Fail, r.Answer(), name)
		assert.Greater(t, r.Count(Unsure), 20, "%s: what was not tried is unsure", name)
	}
	r := Run(t.Context(), slow{mockLink(t, "")}, Options{Timeout: 500 * time.Millisecond, Settings: mockSets, Known: setting.Builtin(), Without: Silence, AnswerLimit: 5 * time.Second}) // this computer may be busy
	assert.Equal(t, harness.Pass, r.Answer(), "an honest board over the same kind of link: %s", text(&r))
}

type echo struct{}

func (echo) Feed(in, out []byte) []byte { return append(out, in...) }

func TestInterruptedIsUnsure(t *testing.T) {
	ctx, stop := context.WithCancel(t.Context())
	stop()
	r := Run(ctx, mockLink(t, ""), Options{})
	assert.Equal(t, harness.Unsure, r.Answer())
	assert.Equal(t, len(r.Points), r.Count(Unsure))
	r = Run(t.Context(), mockLink(t, ""), Options{Limit: 1})
	assert.Equal(t, harness.Unsure, r.Answer(), "no time at all")
}

// TestMotion: the heights of the profile are the integral of its forces, by small steps.
func TestMotion(t *testing.T) {
	const dt = 1e-5
	h, v := 0.0, 0.0
	for tt := 0.0; tt < apogee(); tt += dt {
		f, _ := motion(tt + dt/2)
		h += v*dt + (f-gravity)*dt*dt/2
		v += (f - gravity) * dt
	}
	assert.InDelta(t, h, top(), 0.01)
	assert.InDelta(t, 0, v, 0.01, "apogee is where the speed ends")
	_, ground := motion(1e6)
	assert.Zero(t, ground)
}

func TestEmptyReportIsUnsure(t *testing.T) {
	assert.Equal(t, harness.Unsure, new(Report).Answer())
	only := Report{Points: []Point{{Outcome: NotClaimed, Declared: true}}}
	assert.Equal(t, harness.Unsure, only.Answer(), "nothing was seen")
}

// TestLatency: a clock that is given tells the times.
func TestLatency(t *testing.T) {
	now := time.Unix(0, 0)
	r := Run(t.Context(), mockLink(t, ""), Options{Now: func() time.Time { now = now.Add(time.Millisecond); return now }})
	assert.Equal(t, Latency{Ticks: 600, Median: time.Millisecond, Greatest: time.Millisecond}, r.Latency)
}

// gone fails at the first read.
type gone struct{ link.Link }

func (gone) Read([]byte) (int, error) { return 0, fmt.Errorf("test: %w", link.ErrGone) }

func TestLostLinkIsUnsure(t *testing.T) {
	r := Run(t.Context(), gone{mockLink(t, "")}, Options{})
	assert.Equal(t, harness.Unsure, r.Answer())
	assert.Contains(t, r.Points[0].Why, "port gone")
}
