// Package firmwarecontract holds the C side of the contract; its Go files are tests only. They build
// the library and its host tests with the machine's C compiler and hold it against the Go side.
package firmwarecontract

import (
	"context"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

var (
	warnings   = strings.Fields("-std=c99 -Wall -Wextra -Wconversion -Wsign-conversion -Wshadow -Wstrict-prototypes -Wcast-qual -Wundef -pedantic -Werror")
	sanitizers = strings.Fields("-g -O1 -fsanitize=address,undefined -fno-sanitize-recover=all")
)

// need gives the path of a program, or leaves the test out on a machine without it. make check installs
// them, and says with DRYSTAGE_TOOLS=all that none may be missing.
func need(t testing.TB, program string) string {
	path, err := exec.LookPath(program)
	switch {
	case err != nil && os.Getenv("DRYSTAGE_TOOLS") == "all":
		t.Fatalf("no %s on this machine; make tools installs it", program)
	case err != nil:
		t.Skipf("no %s on this machine; make tools installs it", program)
	}
	return path
}

func run(t testing.TB, program string, args ...string) string {
	t.Helper()
	ctx, cancel := context.WithTimeout(t.Context(), 2*time.Minute) // a fault may be a loop without end
	defer cancel()
	out, err := exec.CommandContext(ctx, program, args...).CombinedOutput()
	require.NoError(t, err, "%s %s\n%s", program, strings.Join(args, " "), out)
	return string(out)
}

// compile builds a program for this machine with sanitizers and gives its path.
func compile(t testing.TB, cc string, sources ...string) string {
	t.Helper()
	out := filepath.Join(t.TempDir(), "program")
	args := append(append([]string{}, warnings...), sanitizers...)
	args = append(args, "-Iinclude", "-Itest", "-Ireference", "-o", out)
	run(t, cc, append(args, sources...)...)
	return out
}

// TestHost runs the C tests: golden frames, sessions, every byte corrupted. Each says how many checks it
// made, so that none passes by doing nothing.
func TestHost(t *testing.T) {
	for _, cc := range []string{"gcc", "clang"} {
		for name, args := range map[string][]string{
			"vectors": {"vectors/messages.txt", "vectors/corrupt.txt"},
			"session": nil,
			"broken":  nil,
		} {
			t.Run(cc+"/"+name, func(t *testing.T) {
				t.Parallel()
				said := run(t, compile(t, need(t, cc), "test/"+name+".c", "src/drystage.c"), args...)
				assert.Regexp(t, regexp.MustCompile(name+`: [1-9]\d\d+ checks, 0 failures\n$`), said)
			})
		}
	}
}

// TestHeaderInCPlusPlus: a C++ firmware includes the same header.
func TestHeaderInCPlusPlus(t *testing.T) {
	run(t, need(t, "g++"), "-std=c++11", "-Wall", "-Wextra", "-Werror", "-fsyntax-only", "-x", "c++", "-Iinclude", "include/drystage.h")
}

// The promises of DESIGN and README for an 8-bit AVR, and what README says was measured.
const (
	mostFlash = 6 << 10
	mostRAM   = 2 << 10
)

// TestSizeOnAVR builds for an ATmega328P and adds up what the linker would place: code and constants
// in flash, the library's struct in RAM.
func TestSizeOnAVR(t *testing.T) {
	avr, size := need(t, "avr-gcc"), need(t, "avr-size")
	dir := t.TempDir()
	object := filepath.Join(dir, "drystage.o")
	flags := strings.Fields("-mmcu=atmega328p -std=c99 -Os -fstack-usage -Wall -Wextra -Wconversion -pedantic -Werror -Iinclude -c -o")
	run(t, avr, append(flags, object, "src/drystage.c")...)
	text, data, bss := sections(t, run(t, size, object))
	assert.Zero(t, data+bss, "the library has no variables of its own")
	assert.Less(t, text, mostFlash)

	stack := frames(t, filepath.Join(dir, "drystage.su"))
	deep := stack["drystage_feed"] + stack["welcome"] + stack["transmit"] + stack["drystage_crc"] + stack["drystage_put_u32"]
	assert.Contains(t, stack, "transmit")
	assert.LessOrEqual(t, deep, 140, "README's stack: the way of HELLO and WELCOME is the deepest")

	probe := filepath.Join(dir, "probe.c")
	require.NoError(t, os.WriteFile(probe, []byte("#include \"drystage.h\"\ndrystage board = {0};\n"), 0o644))
	run(t, avr, append(flags, object, probe)...)
	_, _, ram := sections(t, run(t, size, object))
	assert.Less(t, ram, mostRAM)

	readme, err := os.ReadFile("README.md")
	require.NoError(t, err)
	m := regexp.MustCompile(`([\d.]+) KiB of flash, (\d+) bytes of\s+RAM`).FindStringSubmatch(string(readme))
	require.NotNil(t, m, "README says what was measured")
	flash, _ := strconv.ParseFloat(m[1], 64)
	bytes, _ := strconv.Atoi(m[2])
	assert.InDelta(t, float64(text)/1024, flash, 0.1, "README's flash")
	assert.InDelta(t, ram, bytes, 8, "README's RAM")
}

// frames reads the bytes of stack of each function from what -fstack-usage wrote; inlined functions
// have none of their own.
func frames(t *testing.T, file string) map[string]int {
	text, err := os.ReadFile(file)
	require.NoError(t, err)
	out := map[string]int{}
	for _, m := range regexp.MustCompile(`:(\w+)\t(\d+)\tstatic`).FindAllStringSubmatch(string(text), -1) {
		out[m[1]], _ = strconv.Atoi(m[2])
	}
	return out
}

// sections reads what avr-size says.
func sections(t *testing.T, said string) (text, data, bss int) {
	lines := strings.Split(strings.TrimSpace(said), "\n")
	f := strings.Fields(lines[len(lines)-1])
	require.GreaterOrEqual(t, len(f), 3, said)
	for i, p := range []*int{&text, &data, &bss} {
		n, err := strconv.Atoi(f[i])
		require.NoError(t, err)
		*p = n
	}
	return text, data, bss
}

// TestSourceFitsOneHead: one source, below 600 lines, and nothing in it that a small board lacks.
func TestSourceFitsOneHead(t *testing.T) {
	src, err := os.ReadFile("src/drystage.c")
	require.NoError(t, err)
	assert.Less(t, strings.Count(string(src), "\n"), 600)
	for _, word := range []string{"malloc", "free(", "stdio", "double", "float", "assert", "goto ", "static uint", "alloca"} {
		assert.NotContains(t, string(src), word)
	}
}
