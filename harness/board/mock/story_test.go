package mock

import (
	"fmt"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"

	"drystage/harness/board/contract"
)

// story flies and tells what happened, a line for each log and each output, with the time since launch
// and, of outputs, the true height.
func (b *bench) story(until float64) string {
	var s strings.Builder
	logs, edges := 0, 0
	for b.t < until {
		now := b.t
		b.run(b.t + step/2)
		for ; logs < len(b.logs); logs++ {
			fmt.Fprintf(&s, "%6.1f s  %s\n", now-launchAt, b.logs[logs])
		}
		for ; edges < len(b.edges); edges++ {
			e := b.edges[edges]
			fmt.Fprintf(&s, "%6.1f s  output %d %s at %.0f m\n", now-launchAt, e.channel, map[bool]string{true: "on", false: "off"}[e.on], e.h)
		}
	}
	return s.String()
}

// TestStories: three flights as a reader would tell them.
func TestStories(t *testing.T) {
	for _, c := range []struct {
		reason  string
		disturb func(b *bench)
		want    string
	}{
		{"nominal", func(*bench) {}, `
  -2.0 s  armed
   0.1 s  liftoff by acceleration
   2.1 s  burnout
   3.5 s  staging
   3.5 s  output 1 on at 299 m
   3.8 s  thrust
   4.0 s  output 1 off at 350 m
   5.3 s  burnout
  15.9 s  apogee at 1244 m
  15.9 s  drogue
  15.9 s  output 2 on at 1244 m
  16.4 s  output 2 off at 1243 m
  77.8 s  main at 146 m
  77.8 s  output 3 on at 146 m
  78.3 s  output 3 off at 143 m
 124.4 s  landed
`},
		{"the upper motor does not light", func(b *bench) { b.dead = true }, `
  -2.0 s  armed
   0.1 s  liftoff by acceleration
   2.1 s  burnout
   3.5 s  staging
   3.5 s  output 1 on at 299 m
   4.0 s  output 1 off at 344 m
   5.5 s  no thrust after staging
  11.2 s  apogee at 620 m
  11.3 s  drogue
  11.3 s  output 2 on at 620 m
  11.8 s  output 2 off at 619 m
  38.6 s  main at 146 m
  38.6 s  output 3 on at 146 m
  39.1 s  output 3 off at 143 m
  85.6 s  landed
`},
		{"disarmed under the drogue", func(b *bench) { b.give[at(25)] = contract.Disarm }, `
  -2.0 s  armed
   0.1 s  liftoff by acceleration
   2.1 s  burnout
   3.5 s  staging
   3.5 s  output 1 on at 299 m
   3.8 s  thrust
   4.0 s  output 1 off at 350 m
   5.3 s  burnout
  15.9 s  apogee at 1244 m
  15.9 s  drogue
  15.9 s  output 2 on at 1244 m
  16.4 s  output 2 off at 1243 m
  22.0 s  disarmed
  93.4 s  landed
`},
	} {
		b := newBench(t, "")
		c.disturb(b)
		assert.Equal(t, strings.TrimPrefix(c.want, "\n"), b.story(170), c.reason)
	}
}
