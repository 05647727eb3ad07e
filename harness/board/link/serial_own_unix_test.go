//go:build linux || darwin || freebsd

package link

import (
	"testing"

	"github.com/stretchr/testify/assert"
)

func TestSpeedsThatAreNear(t *testing.T) {
	for _, c := range []struct {
		got, want int
		alike     bool
		reason    string
	}{
		{115200, 115200, true, "the same"},
		{115384, 115200, true, "0.16 %, an 8-bit divider of 3 MHz by 26"},
		{2_000_000, 3_000_000, false, "the nearest that a chip has"},
		{9600, 12_000_000, false, "a driver that fell back"},
		{1_000_000, 1_020_000, true, "2 %, the limit"},
		{1_000_000, 1_021_000, false, "beyond it"},
	} {
		assert.Equal(t, c.alike, sameSpeed(c.got, c.want), c.reason)
	}
}
