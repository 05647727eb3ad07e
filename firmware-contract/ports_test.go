//go:build linux

package firmwarecontract

import (
	"context"
	"debug/elf"
	"fmt"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"drystage/harness"
	"drystage/harness/board/link"
	"drystage/harness/board/mock"
	"drystage/harness/files/scenario"
	runner "drystage/harness/run"
	"github.com/stretchr/testify/require"
)

// port is one of the machines that the reference firmware flies on.
type port struct {
	name, number string
	tools        []string
	target       string   // of the Makefile
	file         string   // that it makes
	command      string   // of the board; %s is the folder of what was made
	exact        bool     // frame for frame as the mock
	pins         bool     // its emulator takes --pins=FILE
	few          []string // scenarios of make check
	flightsOnly  bool     // the contract is left to make boards
}

var ports = []port{
	{name: "process", number: "64-bit, hardware", tools: []string{"cc"}, target: "reference", file: "reference", command: "%[1]s/reference", exact: true,
		few: []string{"power-cut-coast", "sustainer-late", "unarmed"}},
	{name: "avr", number: "32-bit, software", tools: []string{"cc", "avr-gcc"}, target: "board-avr", file: "board-avr.elf", command: "%[1]s/bridge %[1]s/board-avr.elf", pins: true,
		few: []string{"power-cut-coast"}, flightsOnly: true},
	{name: "cortex-m", number: "64-bit, software", tools: []string{"arm-none-eabi-gcc", "qemu-system-arm"}, target: "board-arm", file: "board-arm.elf", command: "ports/cortexm/board.sh %[1]s/board-arm.elf", exact: true,
		few: []string{"sustainer-late"}, flightsOnly: true},
}

// build makes the port's firmware and what it runs on, and gives the folder.
func (p *port) build(t testing.TB) string {
	for _, tool := range append(p.tools, "make") {
		need(t, tool)
	}
	dir := t.TempDir()
	run(t, "make", "OUT="+dir, p.target)
	return dir
}

// address gives the board's address, and the file that its pins go to.
func (p *port) address(t testing.TB, dir string) (address, pins string) {
	address = "exec:" + fmt.Sprintf(p.command, dir)
	if p.pins {
		pins = filepath.Join(t.TempDir(), "pins")
		address = strings.Replace(address, "bridge ", "bridge --pins="+pins+" ", 1)
	}
	return address, pins
}

// sizes are what a firmware takes, and what of it is the library's.
type sizes struct{ flash, ram, libraryFlash, libraryRAM int }

// sizesOf reads a linked firmware: its sections, and the symbols of the library's one source, or with its prefix. The
// library's RAM is the one struct drystage, named line.
func sizesOf(t testing.TB, file string) (s sizes) {
	f, err := elf.Open(file)
	require.NoError(t, err)
	defer f.Close()
	for _, x := range f.Sections {
		if x.Flags&elf.SHF_ALLOC == 0 || strings.HasPrefix(x.Name, ".eeprom") {
			continue
		}
		if x.Type == elf.SHT_PROGBITS {
			s.flash += int(x.Size)
		}
		if x.Flags&elf.SHF_WRITE != 0 {
			s.ram += int(x.Size)
		}
	}
	symbols, err := f.Symbols()
	require.NoError(t, err)
	source := ""
	for _, y := range symbols {
		switch elf.ST_TYPE(y.Info) {
		case elf.STT_FILE:
			source = y.Name
		case elf.STT_FUNC:
			local := elf.ST_BIND(y.Info) == elf.STB_LOCAL
			if local && source == "drystage.c" || !local && strings.HasPrefix(y.Name, "drystage_") {
				s.libraryFlash += int(y.Size)
			}
		case elf.STT_OBJECT:
			if y.Name == "line" && source == "board.c" {
				s.libraryRAM += int(y.Size)
			}
		}
	}
	return s
}

// planOf loads a scenario, rehearsed.
func planOf(t testing.TB, file string) harness.Plan {
	plan, problems := scenario.Load(scenario.Disk{}, file)
	require.Empty(t, problems)
	runner.Rehearse(&plan.Setup)
	return plan
}

// fly flies a plan in lockstep with the boards that open gives by role. Other tests share the machine.
func fly(t testing.TB, plan harness.Plan, open func(role string) (link.Link, error)) *harness.Record {
	return flyWith(t, plan, runner.Options{Link: open, Timeout: time.Minute, AnswerLimit: time.Minute})
}

// flyWith flies a plan and gives its record.
func flyWith(t testing.TB, plan harness.Plan, opt runner.Options) (rec *harness.Record) {
	plans := []harness.Plan{plan}
	b, err := runner.Open(t.Context(), opt, plans)
	require.NoError(t, err)
	defer b.Close()
	require.NoError(t, b.Fly(t.Context(), plans, func(_ int, r *harness.Record) error { rec = r; return nil }))
	return rec
}

func onMock(string) (link.Link, error) {
	g, err := mock.New("")
	return link.Memory(g), err
}

// tap keeps the bytes that go over a link.
type tap struct {
	link.Link
	in, out []byte // to the board, from it
}

func open(ctx context.Context, address string) (*tap, error) {
	l, err := link.Open(ctx, address, link.Options{})
	return &tap{Link: l}, err
}

func (x *tap) Write(b []byte) (int, error) {
	n, err := x.Link.Write(b)
	x.in = append(x.in, b[:n]...)
	return n, err
}

func (x *tap) Read(b []byte) (int, error) {
	n, err := x.Link.Read(b)
	x.out = append(x.out, b[:n]...)
	return n, err
}
