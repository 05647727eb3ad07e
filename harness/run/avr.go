package run

import (
	"cmp"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"net/url"
	"os"
	"path"
	"path/filepath"
	"slices"
	"strconv"
	"strings"

	"drystage/harness"
	"drystage/harness/files/scenario"
)

// avrForm is how the address of an emulated chip is written.
const avrForm = "avr:FIRMWARE.elf?wiring=FILE"

// avrKeys may stand behind the firmware.
var avrKeys = []string{"wiring", "bridge", "flip"}

// avr is an emulated AVR whose firmware doesn't speak the contract.
type avr struct {
	firmware, wiring, bridge string
	flip                     string // the address of a branch whose condition is turned around in the flash; empty: none
}

func isAVR(address string) bool { return strings.HasPrefix(address, "avr:") }

// avrOf reads an address. The bridge is the emulator of firmware-contract/ports/avr, by default beside the firmware.
func avrOf(address string) (a avr, err error) {
	name, query, _ := strings.Cut(strings.TrimPrefix(address, "avr:"), "?")
	values, err := url.ParseQuery(query)
	if err != nil || name == "" {
		return a, harness.Errorf("address %q can't be read; write it as %s", address, avrForm)
	}
	a = avr{firmware: name, wiring: values.Get("wiring"), bridge: values.Get("bridge"), flip: values.Get("flip")}
	for key, list := range values {
		if !slices.Contains(avrKeys, key) || len(list) > 1 {
			return a, harness.Errorf("address %q has %q; it may have %s, each once", address, key, strings.Join(avrKeys, ", "))
		}
	}
	if _, err := strconv.ParseUint(cmp.Or(a.flip, "0"), 0, 24); err != nil {
		return a, harness.Errorf("address %q: flip %q isn't the address of a branch, such as 0x1a2c", address, a.flip)
	}
	if a.wiring == "" {
		return a, harness.Errorf("address %q says no wiring; write it as %s", address, avrForm)
	}
	if a.bridge == "" {
		a.bridge = filepath.Join(filepath.Dir(name), "bridge")
	}
	return a, nil
}

// In gives an address whose names of files are relative to a folder as one for the working folder: a socket, or the
// files of an emulated chip.
func In(dir, address string) string {
	kind, name, _ := strings.Cut(address, ":")
	from := func(name string) string {
		if filepath.IsAbs(name) {
			return name
		}
		return path.Join(dir, name)
	}
	switch kind {
	case "unix":
		return "unix:" + from(name)
	case "avr":
		name, query, _ := strings.Cut(name, "?")
		words := strings.Split(query, "&")
		for i, w := range words {
			key, value, _ := strings.Cut(w, "=")
			if plain, err := url.QueryUnescape(value); err == nil && (key == "wiring" || key == "bridge") {
				words[i] = key + "=" + strings.ReplaceAll(url.QueryEscape(from(plain)), "%2F", "/")
			}
		}
		return "avr:" + from(name) + "?" + strings.Join(words, "&")
	}
	return address
}

// Firmware gives the ELF file of an address of an emulated chip; empty: the board is something else.
func Firmware(address string) string {
	if !isAVR(address) {
		return ""
	}
	a, _ := avrOf(address)
	return a.firmware
}

// command is the address of the bridge as a program. counts is the file for what it counts; empty: it doesn't.
func (a *avr) command(counts string) (string, error) {
	w, problems := scenario.LoadWiring(scenario.Disk{}, a.wiring)
	if len(problems) > 0 {
		var list []string
		for _, p := range problems {
			list = append(list, p.Error())
		}
		return "", harness.Errorf("the wiring isn't right:\n%s", strings.Join(list, "\n"))
	}
	for _, f := range [][2]string{{a.firmware, "an ELF file made by avr-gcc"}, {a.bridge, "the emulator: build it by `make board-avr` in firmware-contract, and say &bridge=FILE if it isn't beside the firmware"}} {
		if _, err := os.Stat(f[0]); err != nil {
			return "", harness.Errorf("no %s: %w; wanted %s", f[0], err, f[1])
		}
	}
	bridge, err := filepath.Abs(a.bridge)
	if err != nil {
		return "", err
	}
	all := []string{bridge, "--mcu=" + w.Chip, fmt.Sprintf("--clock=%.0f", w.Clock)}
	for _, x := range w.Wires {
		all = append(all, "--wire="+x)
	}
	if a.flip != "" {
		all = append(all, "--flip="+a.flip)
	}
	if counts != "" {
		all = append(all, "--counts="+counts)
	}
	var words []string
	for _, x := range append(all, a.firmware) {
		if strings.Contains(x, "'") {
			return "", harness.Errorf("%s: the name of a board's file has no '", x)
		}
		words = append(words, "'"+x+"'")
	}
	return "exec:" + strings.Join(words, " "), nil
}

// known is the address with digests of the files behind it, for a record: what flew is not the file of tomorrow.
func known(address string) string {
	if !isAVR(address) {
		return address
	}
	a, err := avrOf(address)
	if err != nil {
		return address
	}
	return fmt.Sprintf("%s (firmware %s, wiring %s)", address, sumOf(a.firmware), sumOf(a.wiring))
}

// sumOf is the start of a file's SHA-256.
func sumOf(name string) string {
	b, err := os.ReadFile(name)
	if err != nil {
		return "unknown"
	}
	sum := sha256.Sum256(b)
	return hex.EncodeToString(sum[:])[:16]
}
