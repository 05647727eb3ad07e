package firmwarecontract

import (
	"encoding/json"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/goccy/go-yaml"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	drystage "drystage/harness/run"
)

// layouts makes the libraries for other build systems.
func layouts(t *testing.T) string {
	dir := t.TempDir()
	run(t, need(t, "make"), "layouts", "OUT="+dir)
	return dir
}

// Each layout holds the one source and its headers, and tells the version of drystage.
func TestLayoutsHoldTheOneSource(t *testing.T) {
	dir := layouts(t)
	for from, to := range map[string][]string{
		"src/drystage.c":              {"arduino/src", "platformio/src", "zephyr/src"},
		"include/drystage.h":          {"arduino/src", "platformio/include", "zephyr/include"},
		"include/drystage_messages.h": {"arduino/src", "platformio/include", "zephyr/include"},
	} {
		want, err := os.ReadFile(from)
		require.NoError(t, err)
		for _, folder := range to {
			got, err := os.ReadFile(filepath.Join(dir, folder, filepath.Base(from)))
			require.NoError(t, err)
			assert.Equal(t, string(want), string(got), folder)
		}
	}
	text := func(name string) string {
		b, err := os.ReadFile(filepath.Join(dir, name))
		require.NoError(t, err)
		return string(b)
	}
	assert.Contains(t, text("arduino/library.properties"), "\nversion="+drystage.Release+"\n")
	for line := range strings.Lines(text("arduino/library.properties")) {
		assert.Regexp(t, `^[a-z]+=.+\n$`, line)
	}
	var library struct{ Name, Version string }
	require.NoError(t, json.Unmarshal([]byte(text("platformio/library.json")), &library))
	assert.Equal(t, drystage.Release, library.Version)
	var module struct {
		Name  string
		Build struct{ Cmake, Kconfig string }
	}
	require.NoError(t, yaml.Unmarshal([]byte(text("zephyr/zephyr/module.yml")), &module))
	assert.FileExists(t, filepath.Join(dir, "zephyr", module.Build.Kconfig))
	assert.FileExists(t, filepath.Join(dir, "zephyr", module.Build.Cmake, "CMakeLists.txt"))
	cmake, err := os.ReadFile("CMakeLists.txt")
	require.NoError(t, err)
	assert.Regexp(t, regexp.MustCompile(`project\(drystage_contract VERSION `+regexp.QuoteMeta(drystage.Release)+` `), string(cmake))
}

// arduinoCore is as much of the API as the example uses.
const arduinoCore = `#include <stddef.h>
#include <stdint.h>
#define HIGH 1
#define LOW 0
#define OUTPUT 1
void pinMode(uint8_t, uint8_t);
void digitalWrite(uint8_t, uint8_t);
unsigned long millis();
struct Port { void begin(unsigned long); int available(); int read(); size_t write(const uint8_t *, size_t); };
extern Port Serial;
`

// The layouts compile as their build systems would: C flags of each, the sketch as C++ behind the core's header.
func TestLayoutsCompile(t *testing.T) {
	dir := layouts(t)
	avr := need(t, "avr-gcc")
	out := filepath.Join(t.TempDir(), "x.o")
	run(t, avr, "-mmcu=atmega328p", "-std=gnu11", "-Os", "-Wall", "-Wextra", "-Werror", "-I"+filepath.Join(dir, "arduino/src"), "-c", filepath.Join(dir, "arduino/src/drystage.c"), "-o", out)
	core := filepath.Join(dir, "core.h")
	require.NoError(t, os.WriteFile(core, []byte(arduinoCore), 0o644))
	for _, cc := range []string{"avr-g++", "g++"} {
		args := strings.Fields("-std=gnu++11 -Os -Wall -Wextra -Werror -x c++ -c -o")
		if cc == "avr-g++" {
			args = append([]string{"-mmcu=atmega328p"}, args...)
		}
		run(t, need(t, cc), append(args, out, "-include", core, "-I"+filepath.Join(dir, "arduino/src"), filepath.Join(dir, "arduino/examples/smallest/smallest.ino"))...)
	}
	run(t, need(t, "cc"), "-std=c99", "-Wall", "-Wextra", "-Werror", "-I"+filepath.Join(dir, "platformio/include"), "-c", filepath.Join(dir, "platformio/src/drystage.c"), "-o", out)
}

// The library needs no C library: only the two headers that a compiler has of its own.
func TestLibraryIsFreestanding(t *testing.T) {
	cc := need(t, "gcc")
	own := strings.TrimSpace(run(t, cc, "-print-file-name=include"))
	out := filepath.Join(t.TempDir(), "x.o")
	args := append(strings.Fields("-ffreestanding -nostdinc -O2 -fno-tree-loop-distribute-patterns -Iinclude -isystem"), own)
	args = append(append(args, warnings...), "-c", "src/drystage.c", "-o", out)
	run(t, cc, args...)
	for line := range strings.Lines(run(t, need(t, "nm"), "-u", out)) {
		name := strings.TrimSpace(strings.TrimPrefix(strings.TrimSpace(line), "U"))
		assert.Contains(t, []string{"__stack_chk_fail", "_GLOBAL_OFFSET_TABLE_"}, name, "something that the firmware would have to bring")
	}
}

// README's board is C++, too, for this machine and for an AVR.
func TestReadmeIsCPlusPlus(t *testing.T) {
	main, out := readmeMain(t), filepath.Join(t.TempDir(), "x.o")
	run(t, need(t, "g++"), "-std=c++11", "-Wall", "-Wextra", "-Werror", "-pedantic", "-Iinclude", "-x", "c++", "-c", main, "-o", out)
	run(t, need(t, "avr-g++"), "-mmcu=atmega328p", "-std=gnu++11", "-Wall", "-Wextra", "-Werror", "-Os", "-Iinclude", "-x", "c++", "-c", main, "-o", out)
}

// CMake: used as a subfolder, and installed and found.
func TestCMake(t *testing.T) {
	cmake := need(t, "cmake")
	dir := t.TempDir()
	src, err := filepath.Abs(".")
	require.NoError(t, err)
	main := "#include <drystage.h>\nint main(void) { drystage d; drystage_config c = {0}; return drystage_start(&d, &c, 1u) == DRYSTAGE_ERR_CONFIG ? 0 : 1; }\n"
	project := func(name, use string) {
		require.NoError(t, os.MkdirAll(filepath.Join(dir, name), 0o755))
		require.NoError(t, os.WriteFile(filepath.Join(dir, name, "main.c"), []byte(main), 0o644))
		text := "cmake_minimum_required(VERSION 3.13)\nproject(firmware C)\n" + use + "\nadd_executable(firmware main.c)\ntarget_link_libraries(firmware drystage::contract)\n"
		require.NoError(t, os.WriteFile(filepath.Join(dir, name, "CMakeLists.txt"), []byte(text), 0o644))
		run(t, cmake, "-S", filepath.Join(dir, name), "-B", filepath.Join(dir, name, "build"), "-DCMAKE_PREFIX_PATH="+filepath.Join(dir, "installed"))
		run(t, cmake, "--build", filepath.Join(dir, name, "build"))
		run(t, filepath.Join(dir, name, "build", "firmware"))
	}
	project("inside", "add_subdirectory("+src+" drystage)")
	run(t, cmake, "-S", src, "-B", filepath.Join(dir, "own"), "-DCMAKE_INSTALL_PREFIX="+filepath.Join(dir, "installed"))
	run(t, cmake, "--build", filepath.Join(dir, "own"), "--target", "install")
	project("found", "find_package(drystage_contract 0.1 REQUIRED)")
}
