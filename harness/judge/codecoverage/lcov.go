package codecoverage

import (
	"bufio"
	"fmt"
	"io"
	"regexp"
)

var notInTestNames = regexp.MustCompile(`[^A-Za-z0-9_]`)

// WriteLCOV writes files as a tracefile of lcov (its manual page geninfo(1), section FILES). The branches of a line are
// numbered by their addresses; of each, 0 is the way on behind it and 1 the jump.
func WriteLCOV(w io.Writer, test string, files []File) error {
	b := bufio.NewWriter(w)
	test = notInTestNames.ReplaceAllString(test, "_")
	for i := range files {
		f := &files[i]
		fmt.Fprintf(b, "TN:%s\nSF:%s\n", test, f.Name)
		for k := range f.Lines {
			f.Lines[k].branches(b)
		}
		t := f.Total()
		fmt.Fprintf(b, "BRF:%d\nBRH:%d\n", t.Ways, t.WaysHit)
		for _, l := range f.Lines {
			fmt.Fprintf(b, "DA:%d,%d\n", l.Number, l.Count)
		}
		fmt.Fprintf(b, "LF:%d\nLH:%d\nend_of_record\n", t.Lines, t.LinesHit)
	}
	return b.Flush()
}

func (l *Line) branches(w io.Writer) {
	for i, x := range l.Branches {
		for way, n := range []uint64{x.Fell, x.Jumped} {
			taken := fmt.Sprint(n)
			if x.Fell+x.Jumped == 0 {
				taken = "-"
			}
			fmt.Fprintf(w, "BRDA:%d,%d,%d,%s\n", l.Number, i, way, taken)
		}
	}
}
