package logs

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"github.com/goccy/go-yaml"
	"github.com/goccy/go-yaml/parser"

	"drystage/harness"
	"drystage/harness/spelling"
	"drystage/sim/quantity"
)

// Mapping says what the columns of a table mean. A column is named as in the header, or by its
// number as in "#3".
type Mapping struct {
	Kind      string   `yaml:"drystage"`        // "mapping"
	Delimiter string   `yaml:"delimiter"`       // comma, semicolon, tab or blank
	Decimal   string   `yaml:"decimal"`         // point or comma
	Header    int      `yaml:"header"`          // line of the header; 0: there is none
	Units     int      `yaml:"units,omitempty"` // line below it that tells the units; 0: there is none
	Time      Clock    `yaml:"time"`
	Columns   []Column `yaml:"columns"`
	file      string
	text      []byte
}

// Clock says how a row tells its time.
type Clock struct {
	Column string `yaml:"column,omitempty"` // none: rows come at Rate
	Unit   string `yaml:"unit,omitempty"`   // s ms us min, ticks (of Rate), or clock for hh:mm:ss
	Rate   string `yaml:"rate,omitempty"`   // such as 200 Hz
	Start  string `yaml:"start,omitempty"`  // what the clock says at time 0; default its first time
}

// Column says what one column means.
type Column struct {
	Column string `yaml:"column"`
	Is     string `yaml:"is"`             // a word of Words, or output N, command, board speed or board state
	Unit   string `yaml:"unit,omitempty"` // of quantity.Units
	Sign   string `yaml:"sign,omitempty"` // "-" turns it round
	Rate   string `yaml:"rate,omitempty"` // when rows repeat a slower sensor's value
	// A number x of the table stands for scale x + offset of the unit; default 1 and 0.
	Scale  *float64 `yaml:"scale,omitempty"`
	Offset *float64 `yaml:"offset,omitempty"`
}

var delimiters = map[string]byte{"comma": ',', "semicolon": ';', "tab": '\t', "blank": ' '}
var delimiterWords = []string{"comma", "semicolon", "tab", "blank"}

// ReadMapping reads a mapping file; its problems carry their place.
func ReadMapping(text []byte, file string) (*Mapping, error) {
	m := &Mapping{file: file, text: text}
	if err := yaml.UnmarshalWithOptions(text, m, yaml.Strict()); err != nil {
		p := harness.Problem{Place: harness.Place{File: file}, Found: strings.TrimSpace(strings.SplitN(err.Error(), "\n", 2)[0]), Wanted: "a mapping file", Hint: "drystage examine LOG --propose-mapping FILE writes one", See: "mapping"}
		var y yaml.Error
		if errors.As(err, &y) && y.GetToken() != nil {
			p.Line, p.Column = y.GetToken().Position.Line, y.GetToken().Position.Column
			p.Found = y.GetMessage()
		}
		return nil, p
	}
	return m, m.check()
}

func (m *Mapping) wrong(path, found, wanted, hint string) error {
	p := harness.Problem{Place: harness.Place{File: m.file}, Found: found, Wanted: wanted, Hint: hint, See: "mapping"}
	if top := strings.FieldsFunc(path, func(r rune) bool { return r == '.' || r == '[' }); len(top) > 0 {
		p.See = "mapping." + top[0]
	}
	f, err := parser.ParseBytes(m.text, 0)
	for err == nil && path != "" { // a key that is not there has the place of what it belongs in
		if y, err := yaml.PathString("$." + path); err == nil {
			if n, err := y.FilterFile(f); err == nil && n.GetToken() != nil {
				p.Line, p.Column = n.GetToken().Position.Line, n.GetToken().Position.Column
				break
			}
		}
		path = path[:max(strings.LastIndexByte(path, '.'), 0)]
	}
	return p
}

// check holds every word of the mapping against what it may be; all problems come at once.
func (m *Mapping) check() error {
	var errs []error
	add := func(path, found, wanted, hint string) { errs = append(errs, m.wrong(path, found, wanted, hint)) }
	if m.Kind != "mapping" {
		add("drystage", strconv.Quote(m.Kind), "drystage: mapping", "")
	}
	if _, ok := delimiters[m.Delimiter]; !ok {
		add("delimiter", strconv.Quote(m.Delimiter), "comma, semicolon, tab or blank", spelling.Hint(m.Delimiter, delimiterWords))
	}
	if m.Decimal != "point" && m.Decimal != "comma" {
		add("decimal", strconv.Quote(m.Decimal), "point or comma", "")
	}
	if m.Header < 0 || m.Header > 1000 {
		add("header", strconv.Itoa(m.Header), "the line of the header, or 0", "")
	}
	if m.Units != 0 && (m.Units <= m.Header || m.Units > 1000) {
		add("units", strconv.Itoa(m.Units), "the line below the header that tells the units, or none", "")
	}
	m.Time.check(add)
	if len(m.Columns) == 0 {
		add("columns", "no columns", "at least one", "")
	}
	for i, c := range m.Columns {
		c.check(fmt.Sprintf("columns[%d].", i), add)
	}
	return errors.Join(errs...)
}

var clockUnits = []string{"s", "ms", "us", "min", "ticks", "clock"}

func (c *Clock) check(add func(path, found, wanted, hint string)) {
	if c.Rate != "" {
		if x, err := quantity.Parse(c.Rate, quantity.Frequency); err != nil || !(x > 0 && x <= 1e6) {
			add("time.rate", strconv.Quote(c.Rate), "a rate such as 200 Hz", "")
		}
	}
	switch {
	case c.Column == "" && c.Rate == "":
		add("time", "neither column nor rate", "time: {column: NAME, unit: s} or time: {rate: 200 Hz}", "")
	case c.Column != "" && !slices.Contains(clockUnits, c.Unit):
		add("time.unit", strconv.Quote(c.Unit), "s, ms, us, min, ticks or clock", spelling.Hint(c.Unit, clockUnits))
	case c.Unit == "ticks" && c.Rate == "":
		add("time.unit", "ticks without rate", "how many ticks a second has, as in rate: 200 Hz", "")
	}
	if c.Start != "" {
		if _, err := quantity.Parse(c.Start, quantity.Time); err != nil {
			add("time.start", strconv.Quote(c.Start), "a time such as 12.5 s", "")
		}
	}
}

func (c *Column) check(at string, add func(path, found, wanted, hint string)) {
	if c.Column == "" {
		add(strings.TrimSuffix(at, "."), "no column", `column: NAME, or column: "#3"`, "")
	}
	if c.Sign != "" && c.Sign != "-" && c.Sign != "+" {
		add(at+"sign", strconv.Quote(c.Sign), `"-", or nothing`, "")
	}
	if c.Rate != "" {
		if x, err := quantity.Parse(c.Rate, quantity.Frequency); err != nil || !(x > 0 && x <= 1e6) {
			add(at+"rate", strconv.Quote(c.Rate), "a rate such as 50 Hz", "")
		}
	}
	for _, f := range []struct {
		key string
		x   *float64
		ok  bool
	}{{"scale", c.Scale, c.Scale == nil || *c.Scale != 0}, {"offset", c.Offset, true}} {
		if f.x != nil && (!f.ok || math.IsNaN(*f.x) || math.Abs(*f.x) > 1e12) {
			add(at+f.key, fmt.Sprint(*f.x), "a finite number, and of scale not 0", "")
		}
	}
	if c.Is == isCommand || c.Is == ownState {
		return
	}
	if n, ok := strings.CutPrefix(c.Is, "output "); ok {
		if i, err := strconv.Atoi(n); err != nil || i < 1 || i > 16 {
			add(at+"is", strconv.Quote(c.Is), "output 1 to output 16", "")
		}
		return
	}
	ch, ok := channelNamed(c.Is)
	if c.Is == ownSpeed {
		ch, ok = Channel{Dim: quantity.Speed}, true
	}
	if !ok {
		add(at+"is", strconv.Quote(c.Is), "a channel such as accelerometer x or barometer pressure", spelling.Hint(c.Is, Words()))
		return
	}
	if _, _, err := scale(c.Unit, ch.Dim); err != nil {
		add(at+"unit", strconv.Quote(c.Unit), "a unit of "+ch.Dim.String()+": "+strings.Join(quantity.Units(ch.Dim), ", "), "")
	}
}

// scale gives factor and shift that turn a number of a unit into SI: x*factor + shift.
func scale(unit string, d quantity.Dimension) (factor, shift float64, err error) {
	if unit == "" && d == quantity.Number {
		return 1, 0, nil
	}
	zero, err := quantity.Parse("0 "+unit, d)
	if err != nil {
		return 0, 0, err
	}
	one, err := quantity.Parse("1000 "+unit, d)
	return (one - zero) / 1000, zero, err
}

// YAML writes the mapping as a file, with comments that say what each guess rests on.
func (m *Mapping) YAML(because map[string]string) []byte {
	var b strings.Builder
	b.WriteString("# What the columns of a flight log mean. Check each line, then: drystage examine LOG --mapping THIS\n")
	fmt.Fprintf(&b, "drystage: mapping\ndelimiter: %s\ndecimal: %s\nheader: %d   # line of the header, 0: none\n", m.Delimiter, m.Decimal, m.Header)
	if m.Units > 0 {
		fmt.Fprintf(&b, "units: %d\n", m.Units)
	}
	fmt.Fprintf(&b, "time: %s", m.Time.flow())
	if why := because["time"]; why != "" {
		b.WriteString("   # " + why)
	}
	b.WriteString("\ncolumns:\n")
	for _, c := range m.Columns {
		fmt.Fprintf(&b, "  - {column: %s, is: %s", strconv.Quote(c.Column), c.Is)
		for _, f := range [][2]string{{"unit", c.Unit}, {"sign", c.Sign}, {"rate", c.Rate}} {
			if f[1] != "" {
				fmt.Fprintf(&b, ", %s: %s", f[0], quoteWord(f[1]))
			}
		}
		for _, f := range []struct {
			key string
			x   *float64
		}{{"scale", c.Scale}, {"offset", c.Offset}} {
			if f.x != nil {
				fmt.Fprintf(&b, ", %s: %g", f.key, *f.x)
			}
		}
		b.WriteString("}")
		if why := because[c.Column]; why != "" {
			b.WriteString("   # " + why)
		}
		b.WriteString("\n")
	}
	return []byte(b.String())
}

func quoteWord(s string) string {
	if s == "-" || s == "+" || s == "%" {
		return strconv.Quote(s)
	}
	return s
}

func (c *Clock) flow() string {
	var parts []string
	if c.Column != "" {
		parts = append(parts, "column: "+strconv.Quote(c.Column))
	}
	for _, f := range [][2]string{{"unit", c.Unit}, {"rate", c.Rate}, {"start", c.Start}} {
		if f[1] != "" {
			parts = append(parts, f[0]+": "+f[1])
		}
	}
	return "{" + strings.Join(parts, ", ") + "}"
}
