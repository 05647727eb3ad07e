package codecoverage

import (
	"cmp"
	"fmt"
	"slices"
)

// File is what was executed of a source file.
type File struct {
	Name  string
	Lines []Line // with code, by number
}

// Line is what was executed of a line.
type Line struct {
	Number   int
	Count    uint64 // how often the most executed of its beginnings was
	Branches []Taken
}

// Taken is a branch, and how often it went which way.
type Taken struct {
	*Branch
	Fell, Jumped uint64
}

// Total counts lines and the ways of branches, of which each has two.
type Total struct{ Lines, LinesHit, Ways, WaysHit int }

// Measure gives what counts mean for the source, by the names of files.
func (p *Program) Measure(c *Counts) (files []File) {
	lines := map[Place]*Line{}
	at := func(place Place) *Line {
		l := lines[place]
		if l == nil {
			l = &Line{Number: place.Line}
			lines[place] = l
		}
		return l
	}
	for i := range p.rows {
		if r := &p.rows[i]; r.stmt && !r.end && r.place.Line > 0 {
			l := at(r.place)
			l.Count = max(l.Count, c.executed(r.address))
		}
	}
	for i := range p.Branches {
		if b := &p.Branches[i]; b.Place.Line > 0 {
			fell, jumped := c.Ways(b)
			l := at(b.Place)
			l.Branches = append(l.Branches, Taken{b, fell, jumped})
			if l.Count == 0 { // its code begins in the middle of another statement's
				l.Count = fell + jumped
			}
		}
	}
	for place, l := range lines {
		i := slices.IndexFunc(files, func(f File) bool { return f.Name == place.File })
		if i < 0 {
			i, files = len(files), append(files, File{Name: place.File})
		}
		files[i].Lines = append(files[i].Lines, *l)
	}
	for _, f := range files {
		slices.SortFunc(f.Lines, func(a, b Line) int { return cmp.Compare(a.Number, b.Number) })
	}
	slices.SortFunc(files, func(a, b File) int { return cmp.Compare(a.Name, b.Name) })
	return files
}

// Total counts a file.
func (f *File) Total() (t Total) {
	for i := range f.Lines {
		l := &f.Lines[i]
		t.Lines++
		t.LinesHit += one(l.Count > 0)
		for _, b := range l.Branches {
			t.Ways += 2
			t.WaysHit += one(b.Fell > 0) + one(b.Jumped > 0)
		}
	}
	return t
}

// Sum counts files.
func Sum(files []File) (t Total) {
	for i := range files {
		x := files[i].Total()
		t.Lines, t.LinesHit, t.Ways, t.WaysHit = t.Lines+x.Lines, t.LinesHit+x.LinesHit, t.Ways+x.Ways, t.WaysHit+x.WaysHit
	}
	return t
}

func one(yes bool) int {
	if yes {
		return 1
	}
	return 0
}

// Missing tells what of a branch no flight has done; empty: nothing.
func (t Taken) Missing() string {
	switch {
	case t.Fell+t.Jumped == 0:
		return "never executed"
	case t.Jumped == 0:
		return "never jumped"
	case t.Fell == 0:
		return "always jumped"
	}
	return ""
}

// Share gives a count and what it is of in words.
func Share(hit, of int) string {
	if of == 0 {
		return "none"
	}
	return fmt.Sprintf("%d of %d (%.1f %%)", hit, of, 100*float64(hit)/float64(of))
}
