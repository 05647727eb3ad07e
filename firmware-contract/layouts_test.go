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

// The Arduino library and its sketch are built as a sketch is: arduino-builder finds the library by its folder and links
// both with the real core into a program for an ATmega328P.
func TestArduinoBuilds(t *testing.T) {
	builder, dir := need(t, "arduino-builder"), layouts(t)
	const share = "/usr/share/arduino"
	libraries, out := t.TempDir(), t.TempDir()
	require.NoError(t, os.Symlink(filepath.Join(dir, "arduino"), filepath.Join(libraries, "drystage")))
	said := run(t, builder, "-compile", "-hardware", share+"/hardware", "-hardware", share+"-builder", "-tools", "/usr/bin", "-libraries", libraries,
		"-fqbn", "arduino:avr:uno", "-build-path", out, "-warnings", "all",
		"-prefs", "compiler.cpp.extra_flags=-DDECIMAL_DIG=__DECIMAL_DIG__", // Debian's core wants one that Debian's older compiler lacks
		filepath.Join(dir, "arduino/examples/smallest/smallest.ino"))
	assert.NotRegexp(t, `(drystage|smallest)[a-z_.]*:\d+:\d+: warning`, said)
	assert.Regexp(t, `Sketch uses \d+ bytes`, said)
	assert.Contains(t, run(t, need(t, "avr-nm"), filepath.Join(out, "smallest.ino.elf")), " T drystage_crc\n", "what is left of the library after optimizing across files")
}

// The layouts without a build system here compile with the headers where it looks for them.
func TestLayoutsCompile(t *testing.T) {
	dir, out := layouts(t), filepath.Join(t.TempDir(), "x.o")
	for _, name := range []string{"platformio", "zephyr"} {
		run(t, need(t, "cc"), "-std=c99", "-Wall", "-Wextra", "-Werror", "-I"+filepath.Join(dir, name, "include"), "-c", filepath.Join(dir, name, "src/drystage.c"), "-o", out)
	}
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
