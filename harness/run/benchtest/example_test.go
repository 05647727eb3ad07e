package benchtest_test

import (
	"testing"

	"drystage/harness/board/link"
	"drystage/harness/board/mock"
	"drystage/harness/run/benchtest"
)

// A team flies a scenario against its own board from go test. Here the board is the built-in one in
// memory; link.Open(t.Context(), "exec:./firmware", link.Options{}) would start a program.
func TestOwnBoard(t *testing.T) {
	benchtest.Fly(t, "../../../scenarios/nominal.yaml", func(role string) (link.Link, error) {
		guest, err := mock.New("")
		return link.Memory(guest), err
	})
}
