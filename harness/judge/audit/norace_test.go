//go:build !race

package audit_test

const raceOn = false
