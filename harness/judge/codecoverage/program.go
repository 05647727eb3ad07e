// Package codecoverage tells which lines and branches of a firmware flights have executed, from what an emulator has counted
// for each word of the flash, and from the debug information of the ELF file that was flown. The firmware is not changed.
// It neither flies nor makes pages.
package codecoverage

import (
	"cmp"
	"debug/elf"
	"encoding/binary"
	"fmt"
	"regexp"
	"slices"
)

// Program is what the ELF file of an AVR's firmware tells about its code.
type Program struct {
	File     string
	Branches []Branch // by address
	rows     []row    // by address
}

// Branch is an instruction that goes on in one of two places: a branch on a bit of the status register, or a skip.
type Branch struct {
	Address   uint32   // in bytes
	Place     Place    // empty without debug information
	Functions []string // the innermost first: an inlined function stands before the one that it is part of
	Flips     bool     // the opposite condition is one changed bit away
}

// Place is a line of a source file.
type Place struct {
	File string // with its folder, as the compiler was told
	Line int
}

// Open reads an ELF file with symbols.
func Open(file string) (*Program, error) {
	f, err := elf.Open(file)
	if err != nil {
		return nil, fmt.Errorf("%s: %w; wanted an ELF file made by avr-gcc", file, err)
	}
	defer f.Close()
	if f.Machine != elf.EM_AVR {
		return nil, fmt.Errorf("%s: it is for %s; wanted an AVR", file, f.Machine)
	}
	p := &Program{File: file}
	functions, err := p.debug(f)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", file, err)
	}
	if err := p.code(f, functions); err != nil {
		return nil, fmt.Errorf("%s: %w", file, err)
	}
	return p, nil
}

// function is a range of addresses with a name.
type function struct {
	from, to uint32
	name     string
}

// code finds the branches in the functions that the symbols name: what lies between them may be constants.
func (p *Program) code(f *elf.File, functions []function) error {
	text := f.Section(".text")
	symbols, err := f.Symbols()
	if err != nil || text == nil {
		return fmt.Errorf("it has no symbols, or no code (%v): wanted a file that strip has not been at", err)
	}
	bytes, err := text.Data()
	if err != nil {
		return err
	}
	base := uint32(text.Addr)
	for _, s := range symbols {
		from, to := uint32(s.Value), uint32(s.Value+s.Size)
		if elf.ST_TYPE(s.Info) == elf.STT_FUNC && s.Size > 0 && from >= base && to <= base+uint32(len(bytes)) {
			functions = append(functions, function{from, to, s.Name})
			p.branches(bytes[from-base:to-base], from)
		}
	}
	slices.SortFunc(p.Branches, func(a, b Branch) int { return cmp.Compare(a.Address, b.Address) })
	p.Branches = slices.CompactFunc(p.Branches, func(a, b Branch) bool { return a.Address == b.Address }) // a function may have two names
	for i := range p.Branches {
		b := &p.Branches[i]
		b.Place, b.Functions = p.placeOf(b.Address), around(functions, b.Address)
	}
	return nil
}

// branches goes through a function's instructions (AVR Instruction Set Manual, Microchip DS40002198).
func (p *Program) branches(code []byte, from uint32) {
	for at := 0; at+1 < len(code); at += 2 {
		word := binary.LittleEndian.Uint16(code[at:])
		switch address := from + uint32(at); {
		case word&0xF800 == 0xF000, word&0xFC08 == 0xFC00, word&0xFD00 == 0x9900: // BRBS, BRBC; SBRC, SBRS; SBIC, SBIS
			p.Branches = append(p.Branches, Branch{Address: address, Flips: true})
		case word&0xFC00 == 0x1000: // CPSE
			p.Branches = append(p.Branches, Branch{Address: address})
		case word&0xFC0F == 0x9000, word&0xFE0C == 0x940C: // LDS, STS; JMP, CALL: two words
			at += 2
		}
	}
}

// around lists the functions at an address, the innermost first, each once.
func around(functions []function, at uint32) (names []string) {
	var in []function
	for _, f := range functions {
		if at >= f.from && at < f.to {
			in = append(in, f)
		}
	}
	slices.SortStableFunc(in, func(a, b function) int { return cmp.Compare(a.to-a.from, b.to-b.from) })
	for _, f := range in {
		if !slices.Contains(names, f.name) {
			names = append(names, f.name)
		}
	}
	return names
}

// In says that a pattern matches the whole name of one of the branch's functions, or FILE:NAME with the file's base name.
func (b *Branch) In(pattern *regexp.Regexp) bool {
	return slices.ContainsFunc(b.Functions, func(name string) bool {
		return whole(pattern, name) || whole(pattern, b.Place.Base()+":"+name)
	})
}

func whole(pattern *regexp.Regexp, text string) bool {
	pattern.Longest()
	at := pattern.FindStringIndex(text)
	return at != nil && at[0] == 0 && at[1] == len(text)
}
