package logs

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"math"
	"strconv"

	"drystage/harness"
	"drystage/sim"
)

// ReadNMEA reads a log of NMEA 0183 sentences. GGA gives position, height and fix; RMC gives speed and
// course over ground. Of one time, the two make one sample. Sentences whose checksum is wrong or
// missing are left out and noted; other sentences are passed over.
func ReadNMEA(r io.Reader, name string, opt Options) (*Log, error) {
	n := &nmea{lines: newLines(r, name, opt.Told), b: newBuilder(name, opt.Most), clock: ticker{unit: "clock", factor: 1}}
	for _, c := range channelsOf(sim.PartGNSS) {
		if c.Index != Up {
			n.b.want(c)
		}
	}
	for {
		line, err := n.lines.next()
		if errors.Is(err, io.EOF) {
			break
		}
		if err == nil {
			err = n.sentence(bytes.TrimSpace(line))
		}
		if err != nil {
			return nil, err
		}
	}
	if err := n.flush(); err != nil {
		return nil, err
	}
	if n.b.log.Samples() == 0 {
		return nil, harness.Problem{Place: n.lines.place(0), Found: "no sound GGA or RMC sentence", Wanted: "NMEA 0183 sentences with checksums"}
	}
	return n.b.done(), nil
}

type nmea struct {
	lines  *lines
	b      *builder
	clock  ticker
	time   string // of the sample being put together
	any    bool
	bad, n int
}

func (n *nmea) sentence(b []byte) error {
	if len(b) == 0 {
		return nil
	}
	n.n++
	if why := unsound(b); why != "" {
		n.bad++
		if n.bad > 20 && n.bad*2 > n.n {
			return harness.Problem{Place: n.lines.place(1), Found: why + ", as in most lines", Wanted: "NMEA 0183 sentences"}
		}
		n.b.note(n.lines.place(1), Damage, why+"; left out")
		return nil
	}
	f := bytes.Split(b[1:bytes.LastIndexByte(b, '*')], []byte(","))
	kind := string(f[0])
	if len(kind) != 5 || kind[0] == 'P' || kind[2:] != "GGA" && kind[2:] != "RMC" || len(f) < 10 {
		return nil
	}
	if err := n.at(string(f[1])); err != nil || n.time == "" {
		return err
	}
	if kind[2:] == "GGA" {
		n.gga(f)
	} else {
		n.rmc(f)
	}
	return nil
}

// unsound says what is wrong with a sentence; "" when it is sound. The checksum is the exclusive or of
// all bytes between $ and *, in two hexadecimal digits.
func unsound(b []byte) string {
	star := bytes.LastIndexByte(b, '*')
	if b[0] != '$' || star < 0 || len(b) < star+3 {
		return "a line that is no sentence with a checksum"
	}
	want, err := strconv.ParseUint(string(b[star+1:star+3]), 16, 8)
	sum := byte(0)
	for _, c := range b[1:star] {
		sum ^= c
	}
	if err != nil || byte(want) != sum {
		return fmt.Sprintf("checksum %s, where the bytes give %02X", b[star+1:star+3], sum)
	}
	return ""
}

// at begins a new sample when the time is another.
func (n *nmea) at(hhmmss string) error {
	if hhmmss == n.time {
		return nil
	}
	if err := n.flush(); err != nil {
		return err
	}
	n.time = ""
	if len(hhmmss) < 6 {
		return nil
	}
	raw, ok := n.clock.read([]byte(hhmmss[:2]+":"+hhmmss[2:4]+":"+hhmmss[4:]), false)
	if !ok {
		n.b.note(n.lines.place(1), Damage, fmt.Sprintf("time %q; left out", hhmmss))
		return nil
	}
	if _, ok = n.b.stamp(raw, n.lines.place(1)); ok {
		n.time, n.any = hhmmss, true
	}
	return nil
}

func (n *nmea) flush() error {
	if !n.any {
		return nil
	}
	n.any = false
	return n.b.row(n.lines.place(1))
}

func (n *nmea) set(word string, x float64) {
	c, _ := channelNamed(word)
	if v, ok := c.counts(x); ok {
		n.b.set(c, v)
	}
}

func (n *nmea) gga(f [][]byte) {
	quality, _ := number(f[6], false)
	sats, ok := number(f[7], false)
	if ok {
		n.set("gnss satellites", sats)
	}
	if quality == 0 {
		n.set("gnss fix", float64(sim.NoFix))
		return
	}
	n.set("gnss fix", float64(sim.Fix3D))
	n.position(f[2:6])
	if h, ok := number(f[9], false); ok {
		n.set("gnss height", h)
	}
}

func (n *nmea) rmc(f [][]byte) {
	if string(f[2]) != "A" {
		return
	}
	n.position(f[3:7])
	knots, ok1 := number(f[7], false)
	course, ok2 := number(f[8], false)
	if ok1 && (ok2 || knots == 0) {
		v := knots * 1852 / 3600
		n.set("gnss east", v*math.Sin(course*degree))
		n.set("gnss north", v*math.Cos(course*degree))
	}
}

// position sets latitude and longitude from ddmm.mmm,N,dddmm.mmm,E.
func (n *nmea) position(f [][]byte) {
	for i, word := range []string{"gnss latitude", "gnss longitude"} {
		x, ok := number(f[2*i], false)
		if !ok || len(f[2*i+1]) != 1 {
			continue
		}
		d := math.Trunc(x / 100)
		x = (d + (x-100*d)/60) * degree
		if c := f[2*i+1][0]; c == 'S' || c == 'W' {
			x = -x
		}
		n.set(word, x)
	}
}
