package main

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"strings"

	"drystage/harness/judge/mutants/source"
)

// reference is the decision logic of the firmware in C, with what builtIn leaves out left out.
var reference = source.CScope{
	Leave: strings.Fields("plain_log plain_exp plain_cos plain_thousandths joined quadratic cubic flight_note flight_note_two flight_note_height flight_report report_when_due note_refusal watch_upper_motor flight_pass flight_setting settings_accept allowed"),
	Tells: strings.Fields("flight_note flight_note_two flight_note_height flight_report report_when_due note_refusal watch_upper_motor drystage_armed"),
	Told:  strings.Fields("upper_burned no_thrust_reported staged_at next"),
	Own:   "DRYSTAGE_",
}

// port is the firmware's port to a board in this process. Each board has its own copy of the port's variables, which
// are put in place for as long as it is fed.
const port = `#include "mutant_switch.h"
#include "ports/board.c"
#include "port.h"

struct one { drystage line; flight board; flight_memory *memory; uint32_t heard; int joining; uint8_t tested; uint32_t ends; int64_t time; flight_memory kept; };

int mutant_on;
unsigned char mutant_noted[MUTANTS + 1];
const char port_name[] = "reference";
static uint8_t *answer;
static size_t answered, room;
static uint32_t now;

int port_write(const uint8_t *bytes, size_t count)
{
    if (count > room - answered) { return -1; }
    (void)memcpy(answer + answered, bytes, count);
    answered += count;
    return 0;
}

uint32_t port_clock(void) { return now; }
void port_restart(void) {}
void flight_pin(uint8_t channel, int on) { (void)channel; (void)on; }

size_t port_size(void) { return sizeof(struct one); }

static void load(const struct one *p)
{
    line = p->line; board = p->board; memory = p->memory; heard = p->heard; joining = p->joining; tested = p->tested; ends = p->ends;
}

static void store(struct one *p)
{
    p->line = line; p->board = board; p->memory = memory; p->heard = heard; p->joining = joining; p->tested = tested; p->ends = ends;
}

void port_new(void *to)
{
    struct one *p = to;
    (void)memset(p, 0, sizeof *p);
    load(p);
    (void)board_start(&p->kept, 1u);
    store(p);
}

size_t port_feed(void *of, const uint8_t *in, size_t count, uint8_t *out, size_t most)
{
    struct one *p = of;
    answer = out; answered = 0u; room = most;
    load(p);
    if (tested != 0u) { /* a clock, which a board in lockstep uses for nothing: that of its samples, but for tests of outputs */
        p->time += 5000;
    } else if (board.now > p->time) {
        p->time = board.now;
    } else {
        /* it stands */
    }
    now = (uint32_t)p->time;
    board_feed(in, count);
    board_pass();
    store(p);
    return answered;
}
`

const portHeader = `#include <stddef.h>
#include <stdint.h>
#define MUTANTS %d
extern int mutant_on;
extern unsigned char mutant_noted[MUTANTS + 1];
size_t port_size(void);
void port_new(void *to);
size_t port_feed(void *of, const uint8_t *in, size_t count, uint8_t *out, size_t most);
`

// hookC binds the firmware to this program.
const hookC = `package main

// #cgo CFLAGS: -I%[1]s
// #cgo LDFLAGS: -L%[1]s -lfirmware -lm
// #include <stdlib.h>
// #include "port.h"
import "C"

import (
	"runtime"
	"unsafe"

	"drystage/harness/board/link"
)

type cBoard struct {
	of  unsafe.Pointer
	buf [1 << 16]byte
}

// Feed hands bytes to the firmware.
func (b *cBoard) Feed(in, out []byte) []byte {
	if len(in) == 0 {
		return out
	}
	n := C.port_feed(b.of, (*C.uint8_t)(unsafe.SliceData(in)), C.size_t(len(in)), (*C.uint8_t)(&b.buf[0]), C.size_t(len(b.buf)))
	return append(out, b.buf[:n]...)
}

func init() {
	selectMutant = func(n int) {
		C.mutant_on = C.int(n)
		clear(C.mutant_noted[:])
	}
	notedMutants = func() (out []int) {
		for n, is := range C.mutant_noted {
			if is != 0 {
				out = append(out, n)
			}
		}
		return out
	}
	newBoard = func() link.Device {
		b := &cBoard{of: C.malloc(C.port_size())}
		C.port_new(b.of)
		runtime.SetFinalizer(b, func(b *cBoard) { C.free(b.of) })
		return b
	}
}
`

func (p *mutated) prepareC(ctx context.Context) (err error) {
	p.reasons = reasonsC
	names, err := filepath.Glob(filepath.Join(p.firmware(), "reference", "*.c"))
	if err != nil || len(names) == 0 {
		return fmt.Errorf("no sources below %s: %w", p.firmware(), err)
	}
	var files []source.Source
	for _, n := range names {
		text, err := os.ReadFile(n)
		if err != nil {
			return err
		}
		files = append(files, source.Source{Name: n, Text: string(text)})
	}
	p.schemata, err = source.OfC(files, reference, func(name string) ([]byte, error) {
		text, err := output(ctx, p.firmware(), "clang", "-std=c99", "-Iinclude", "-Ireference", "-fsyntax-only", "-Xclang", "-ast-dump=json", name)
		return []byte(text), err
	})
	return err
}

func (p *mutated) firmware() string { return filepath.Join(p.root, "firmware-contract") }

// buildC makes a library of the firmware with its mutants.
func (p *mutated) buildC(ctx context.Context) error {
	write := func(name, text string) error { return os.WriteFile(filepath.Join(p.dir, name), []byte(text), 0o600) }
	sources := []string{filepath.Join(p.firmware(), "src", "drystage.c"), "port.c"}
	for _, s := range p.schemata.Sources {
		name := "mutated-" + filepath.Base(s.Name)
		sources = append(sources, name)
		if err := write(name, "#include \"mutant_switch.h\"\n#line 1\n"+s.Text); err != nil {
			return err
		}
	}
	for name, text := range map[string]string{"mutant_switch.h": p.schemata.CSwitch(), "port.c": port, "port.h": fmt.Sprintf(portHeader, len(p.schemata.Mutants))} {
		if err := write(name, text); err != nil {
			return err
		}
	}
	f := p.firmware()
	args := append([]string{"-std=c99", "-O1", "-w", "-ffp-contract=off", "-D_POSIX_C_SOURCE=200809L", "-c",
		"-I" + p.dir, "-I" + f, "-I" + filepath.Join(f, "include"), "-I" + filepath.Join(f, "reference"), "-I" + filepath.Join(f, "ports")}, sources...)
	if _, err := output(ctx, p.dir, "cc", args...); err != nil {
		return err
	}
	objects, err := filepath.Glob(filepath.Join(p.dir, "*.o"))
	if err != nil {
		return err
	}
	if _, err := output(ctx, p.dir, "ar", append([]string{"rcs", "libfirmware.a"}, objects...)...); err != nil {
		return err
	}
	return p.replace(filepath.Join(p.root, "cmd", "mutants", "hook_mutants.go"), fmt.Sprintf(hookC, p.dir))
}
