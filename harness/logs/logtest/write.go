package logtest

import (
	"bytes"
	"fmt"
	"math"
	"strconv"
	"strings"
)

// Want is what a column of a written log means.
type Want struct {
	Name string // in the header; "" without one
	Is   string // as mapping files say it; "time"; "speed" and "state" of the board's own; "" for what is of no use
	Unit string // as the mapping's unit; "" for what has none
	Told bool   // the unit stands in the text
}

// Write writes the log in a shape, and tells what each column means.
func (l *Log) Write(s Shape) ([]byte, []Want) {
	w := &writer{log: l, shape: s}
	w.columns()
	w.head()
	w.rows()
	return w.b.Bytes(), w.want
}

type writer struct {
	b     bytes.Buffer
	log   *Log
	shape Shape
	cols  []*Column
	want  []Want
}

// columns settles what each column is called and in which unit it comes.
func (w *writer) columns() {
	s := &w.shape
	key := "time " + s.Time
	unit := s.Time
	if unit == "clock" {
		unit = ""
	}
	name, told := s.label(s.name(key, false), unit, key)
	w.want = []Want{{name, "time", s.Time, told}}
	for i := range w.log.Columns {
		c := &w.log.Columns[i]
		is := c.Is
		if is == "" {
			is = c.Key
		}
		unit := s.Unit[dimension(is)]
		if is == "turn" {
			unit = "rad/s2"
		}
		name, told := s.label(s.name(is, w.log.Recipe.OneAxis), unit, is)
		if s.Seed == 0 && strings.HasPrefix(is, "output") {
			name, told = is, true
		}
		if is == "turn" {
			is = ""
		}
		w.cols, w.want = append(w.cols, c), append(w.want, Want{name, is, unit, told})
	}
	for _, x := range s.Extras {
		w.cols, w.want = append(w.cols, extra(x, s.Seed, len(w.log.T))), append(w.want, Want{Name: x})
	}
	if !s.Header {
		for i := range w.want {
			w.want[i].Name, w.want[i].Told = "", false
		}
	}
}

// extra makes a column that is of no use for a flight.
func extra(name string, seed uint64, n int) *Column {
	d, c := newDice(seed, name), &Column{Key: name, X: make([]float64, n)}
	for i := range c.X {
		c.X[i] = map[string]float64{"packet": float64(i), "rssi": -60 - 20*d.Float64(), "mag_x": 40 * d.NormFloat64(), "cpu_temp": 36 + d.Float64(), "loop_us": 900 + float64(d.n(200)), "checksum": float64(d.n(65536))}[name]
	}
	return c
}

// label adds the unit to a name, where the shape tells it there.
func (s *Shape) label(name, unit, key string) (string, bool) {
	spelt, ok := written[unit]
	if !ok || strings.HasPrefix(key, "time") && (strings.Contains(name, "_") || strings.Contains(" ms us millis micros seconds ", " "+name+" ")) {
		return name, unit == "" || strings.HasPrefix(key, "time")
	}
	k := int(s.Seed)
	short, long := spelt[1][k%len(spelt[1])], spelt[0][k%len(spelt[0])]
	switch s.Units {
	case InBrackets:
		return name + " (" + long + ")", true
	case InSquare:
		return name + " [" + long + "]", true
	case Attached:
		return name + "(" + long + ")", true
	case AfterScore:
		return strings.ReplaceAll(name, " ", "_") + "_" + short, true
	case InRow:
		return name, true
	}
	return name, false
}

func (w *writer) line(cells []string) {
	for i, c := range cells {
		if i > 0 {
			w.b.WriteByte(w.shape.Delimiter)
		}
		w.b.WriteString(c)
	}
	w.end()
}

func (w *writer) end() {
	if w.shape.CRLF {
		w.b.WriteByte('\r')
	}
	w.b.WriteByte('\n')
}

func (w *writer) head() {
	s := &w.shape
	if s.BOM {
		w.b.WriteString("\xef\xbb\xbf")
	}
	for _, x := range s.Before {
		w.b.WriteString(x)
		w.end()
	}
	if !s.Header {
		return
	}
	var row, units []string
	for i, x := range w.want {
		name := x.Name
		if s.Delimiter == ' ' {
			name = strings.ReplaceAll(name, " ", "_")
			w.want[i].Name = name
		}
		if s.Quoted {
			name = strconv.Quote(name)
		}
		row = append(row, name)
		u := "-"
		if spelt, ok := written[x.Unit]; ok {
			u = spelt[0][int(s.Seed)%len(spelt[0])]
		}
		units = append(units, u)
	}
	row[0] = s.Remark + row[0]
	w.line(row)
	if s.Units == InRow {
		w.line(units)
	}
}

// places of the decimals that units are written with.
var places = map[string]int{
	"m/s2": 3, "g0": 4, "ft/s2": 2, "mg0": 0, "Pa": 1, "hPa": 2, "mbar": 2, "kPa": 3, "inHg": 3, "m": 2, "ft": 1, "degC": 2, "degF": 1, "K": 2,
	"rad/s": 4, "deg/s": 2, "V": 3, "mV": 0, "m/s": 2, "ft/s": 2, "deg": 7, "rad/s2": 2,
}

// perUnit is SI per unit, and the SI value of zero.
func perUnit(u string) (factor, zero float64) {
	switch u {
	case "g0":
		return standardG, 0
	case "mg0":
		return standardG / 1000, 0
	case "ft/s2", "ft", "ft/s":
		return 0.3048, 0
	case "hPa", "mbar":
		return 100, 0
	case "kPa":
		return 1000, 0
	case "inHg":
		return 3386.389, 0
	case "degC":
		return 1, 273.15
	case "degF":
		return 5 / 9., 273.15 - 32*5/9.
	case "deg", "deg/s":
		return math.Pi / 180, 0
	case "mV":
		return 1e-3, 0
	}
	return 1, 0
}

func (w *writer) rows() {
	s := &w.shape
	last := make([]float64, len(w.cols))
	for c := range last {
		last[c] = math.NaN()
	}
	wrap := 0.0
	for _, a := range w.log.Truth.Anomalies {
		if a.Kind == Wrap16 && s.Time == "ms" {
			wrap = a.At
		}
	}
	for i, t := range w.log.T {
		from := w.b.Len()
		w.time(t, wrap)
		for c, col := range w.cols {
			w.b.WriteByte(s.Delimiter)
			if col.Words != nil {
				w.b.WriteString(col.Words[i])
				continue
			}
			x := col.X[i]
			if math.IsNaN(x) && s.Repeat {
				x = last[c]
			}
			last[c] = x
			if math.IsNaN(x) {
				w.b.WriteString(s.Nothing)
				continue
			}
			w.number(x, w.want[c+1].Unit, col)
		}
		if s.Trailing {
			w.b.WriteByte(s.Delimiter)
		}
		if s.Comma {
			row := w.b.Bytes()[from:]
			for k, b := range row {
				if b == '.' {
					row[k] = ','
				}
			}
		}
		w.end()
	}
}

func (w *writer) number(x float64, unit string, c *Column) {
	n, ok := places[unit]
	f, zero := perUnit(unit)
	if !ok && c.Is == "" && c.Key != "packet" && c.Key != "checksum" {
		n = 1
	}
	w.b.Write(strconv.AppendFloat(w.b.AvailableBuffer(), (x-zero)/f, 'f', n, 64))
}

// time writes a row's stamp. A clock of 16 bits begins so that it wraps at the wanted time.
func (w *writer) time(t, wrap float64) {
	s := &w.shape
	x := s.Start + t
	switch s.Time {
	case "s":
		w.b.Write(strconv.AppendFloat(w.b.AvailableBuffer(), x, 'f', 4, 64))
	case "ms":
		if n := int64(math.Round(x * 1e3)); wrap > 0 {
			fmt.Fprint(&w.b, int64(math.Round(65536+(t-wrap)*1e3))&0xffff)
		} else {
			fmt.Fprint(&w.b, n)
		}
	case "us":
		fmt.Fprint(&w.b, int64(math.Round(x*1e6)))
	case "clock":
		n := int64(math.Round(x * 1e3))
		fmt.Fprintf(&w.b, "%02d:%02d:%02d.%03d", n/3600000, n/60000%60, n/1000%60, n%1000)
	}
}
