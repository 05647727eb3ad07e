package benchtest

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"sync"
	"testing"

	"github.com/stretchr/testify/require"

	"drystage/harness/board/link"
	"drystage/harness/board/mock"
)

// judge is a testing.TB that remembers what was said against a board.
type judge struct {
	testing.TB
	said []string
}

func (j *judge) Helper()                   {}
func (j *judge) Error(a ...any)            { j.said = append(j.said, fmt.Sprint(a...)) }
func (j *judge) Errorf(f string, a ...any) { j.said = append(j.said, fmt.Sprintf(f, a...)) }
func (j *judge) Fatalf(f string, a ...any) { j.Errorf(f, a...); runtime.Goexit() }
func (j *judge) Fatal(a ...any)            { j.Error(a...); runtime.Goexit() }
func (j *judge) FailNow()                  { runtime.Goexit() }

func against(t *testing.T, file string, open func(string) (link.Link, error)) string {
	j := &judge{TB: t}
	var w sync.WaitGroup
	w.Go(func() { Fly(j, file, open) })
	w.Wait()
	return strings.Join(j.said, "\n")
}

func TestFlyFailsTheTest(t *testing.T) {
	twice := func(string) (link.Link, error) {
		g, err := mock.New("stages-twice")
		return link.Memory(g), err
	}
	wrong := filepath.Join(t.TempDir(), "wrong.yaml")
	require.NoError(t, os.WriteFile(wrong, []byte("drystage: scenario\nlaunch: 5 m\n"), 0o600))
	for _, c := range []struct {
		reason, file string
		open         func(string) (link.Link, error)
		words        string
	}{
		{"a board with a defect", "../../../scenarios/sustainer-dead.yaml", twice, "fail: sustainer.ignite fires at most once"},
		{"a board that does not open", "../../../scenarios/nominal.yaml", func(string) (link.Link, error) { return nil, errors.New("no such port") }, "board sustainer: no such port"},
		{"a wrong file", wrong, twice, "wrong.yaml:2:9: found \"5 m\""},
	} {
		t.Run(c.reason, func(t *testing.T) { require.Contains(t, against(t, c.file, c.open), c.words) })
	}
}
