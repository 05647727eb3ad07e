//go:build !unix

package main

import "time"

// cpuTimeSince gives nothing on this platform.
func cpuTimeSince(time.Duration) time.Duration { return 0 }

// measureCyclictest is for platforms that have cyclictest.
func (c *paceCmd) measureCyclictest(bool) func(*console) (measured, error) {
	return func(*console) (measured, error) {
		return measured{way: "C loop (cyclictest)", note: "not on this platform"}, nil
	}
}
