//go:build !unix

package main

import "time"

// busySince gives nothing on this platform.
func busySince(time.Duration) time.Duration { return 0 }

// loop is for platforms that have cyclictest.
func (c *paceCmd) loop(bool) func(*console) (measured, error) {
	return func(*console) (measured, error) {
		return measured{way: "C loop (cyclictest)", note: "not on this platform"}, nil
	}
}
