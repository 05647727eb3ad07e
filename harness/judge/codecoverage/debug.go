package codecoverage

import (
	"cmp"
	"debug/dwarf"
	"debug/elf"
	"errors"
	"io"
	"path"
	"slices"
	"strings"
)

// row is where the code of a line begins.
type row struct {
	address uint32
	place   Place
	stmt    bool // a statement begins here
	end     bool // no line goes on here
}

// Base is the place's file without its folder.
func (p Place) Base() string { return path.Base(strings.ReplaceAll(p.File, "\\", "/")) }

// HasLines says that the file has debug information.
func (p *Program) HasLines() bool { return len(p.rows) > 0 }

// ErrNoLines says that a file has no debug information that can be read.
var ErrNoLines = errors.New("no debug information in DWARF: build with -gdwarf-4 (avr-gcc's -g alone may mean another format)")

// debug reads lines, and functions with those that were inlined.
func (p *Program) debug(f *elf.File) ([]function, error) {
	if f.Section(".debug_info") == nil {
		return nil, nil
	}
	d, err := f.DWARF()
	if err != nil {
		return nil, err
	}
	var functions []function
	names := map[dwarf.Offset]string{}
	origins := map[dwarf.Offset]dwarf.Offset{}
	type placed struct {
		ranges [][2]uint64
		of     dwarf.Offset
	}
	var all []placed
	for r := d.Reader(); ; {
		e, err := r.Next()
		if err != nil {
			return nil, err
		}
		if e == nil {
			break
		}
		switch e.Tag {
		case dwarf.TagCompileUnit:
			if err := p.lines(d, e); err != nil {
				return nil, err
			}
		case dwarf.TagSubprogram, dwarf.TagInlinedSubroutine:
			ranges, err := d.Ranges(e)
			if err != nil {
				return nil, err
			}
			note(e, names, origins)
			all = append(all, placed{ranges, e.Offset})
		}
	}
	for _, x := range all {
		for _, r := range x.ranges {
			functions = append(functions, function{uint32(r[0]), uint32(r[1]), nameOf(x.of, names, origins)})
		}
	}
	slices.SortStableFunc(p.rows, func(a, b row) int { return cmp.Compare(a.address, b.address) })
	return functions, nil
}

// note keeps a function's name, or which one it is an instance of.
func note(e *dwarf.Entry, names map[dwarf.Offset]string, origins map[dwarf.Offset]dwarf.Offset) {
	if name, ok := e.Val(dwarf.AttrName).(string); ok {
		names[e.Offset] = name
	}
	for _, attr := range []dwarf.Attr{dwarf.AttrAbstractOrigin, dwarf.AttrSpecification} {
		if to, ok := e.Val(attr).(dwarf.Offset); ok {
			origins[e.Offset] = to
		}
	}
}

// nameOf follows the instances of a function to its name; a chain of three is as long as they get.
func nameOf(at dwarf.Offset, names map[dwarf.Offset]string, origins map[dwarf.Offset]dwarf.Offset) string {
	for range 4 {
		if name := names[at]; name != "" {
			return name
		}
		at = origins[at]
	}
	return "unnamed"
}

// lines reads the lines of a compile unit. A sequence at address 0 is code that the linker has dropped.
func (p *Program) lines(d *dwarf.Data, unit *dwarf.Entry) error {
	r, err := d.LineReader(unit)
	if err != nil || r == nil {
		return err
	}
	var sequence []row
	for {
		var e dwarf.LineEntry
		if err := r.Next(&e); errors.Is(err, io.EOF) {
			return nil
		} else if err != nil {
			return err
		}
		sequence = append(sequence, row{uint32(e.Address), Place{e.File.Name, e.Line}, e.IsStmt, e.EndSequence})
		if e.EndSequence {
			if sequence[0].address > 0 && e.Address > uint64(sequence[0].address) {
				p.rows = append(p.rows, sequence...)
			}
			sequence = nil
		}
	}
}

// placeOf finds the line of an address: that of the last row at it or before it.
func (p *Program) placeOf(address uint32) Place {
	n, _ := slices.BinarySearchFunc(p.rows, address+1, func(r row, at uint32) int { return cmp.Compare(r.address, at) })
	if n == 0 || p.rows[n-1].end {
		return Place{}
	}
	return p.rows[n-1].place
}
