package quantity

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
)

// Error says what is wrong with the text of a quantity and what to write instead.
type Error struct {
	Found  string // what stands there
	Wanted string // what was expected
	Hint   string // the next step; may be empty
}

// Error gives "quantity: found X, wanted Y; hint".
func (e *Error) Error() string {
	s := "quantity: found " + e.Found + ", wanted " + e.Wanted
	if e.Hint != "" {
		s += "; " + e.Hint
	}
	return s
}

// Parse reads text such as "54 mm" as a quantity of the dimension and gives its value in SI. The
// number is decimal with a point; the space before the unit may be missing. Errors are *Error.
func Parse(text string, d Dimension) (float64, error) {
	x, u, err := split(text, wanted(d))
	if err != nil {
		return 0, err
	}
	switch {
	case u.symbol == "" && d != Number:
		return 0, &Error{strconv.Quote(text) + ", which has no unit", wanted(d), fmt.Sprintf("add the unit, as in %q", text+" "+usual(d).symbol)}
	case u.dim != d && u.symbol == "g" && (d == Acceleration || d == Jerk):
		return 0, &Error{fmt.Sprintf("%q, which is a mass", text), wanted(d), "g is the gram; the standard gravity is g0"}
	case u.dim != d:
		return 0, &Error{fmt.Sprintf("%q, which is %s", text, u.dim), wanted(d), ""}
	}
	return inSI(text, x, u)
}

// Any reads text as a quantity of any dimension and gives its value in SI.
func Any(text string) (float64, Dimension, error) {
	x, u, err := split(text, "a number with a unit")
	if err != nil {
		return 0, Number, err
	}
	si, err := inSI(text, x, u)
	return si, u.dim, err
}

func inSI(text string, x float64, u unit) (float64, error) {
	si := u.toSI(x)
	if math.IsInf(si, 0) {
		return 0, &Error{strconv.Quote(text), "a number that fits a double", "it is too large"}
	}
	return si, nil
}

// split takes text apart into number and unit.
func split(text, want string) (float64, unit, error) {
	s := strings.TrimSpace(text)
	n := numberLen(s)
	if n == 0 {
		return 0, unit{}, noNumber(text, s, want)
	}
	x, err := strconv.ParseFloat(s[:n], 64)
	if err != nil {
		return 0, unit{}, &Error{strconv.Quote(text), "a number that fits a double", "it is too large"}
	}
	symbol := strings.Join(strings.Fields(s[n:]), " ")
	u, ok := find(symbol)
	if !ok {
		return 0, unit{}, &Error{fmt.Sprintf("%q, whose unit %q is unknown", text, symbol), want, unitHint(symbol, s[:n], want)}
	}
	return x, u, nil
}

func noNumber(text, s, want string) error {
	e := &Error{Found: strconv.Quote(text), Wanted: want}
	low := strings.ToLower(strings.TrimLeft(s, "+-."))
	switch {
	case s == "":
		e.Found = "nothing"
	case strings.HasPrefix(low, "nan") || strings.HasPrefix(low, "inf"):
		e.Hint = "only finite numbers count"
	case strings.HasPrefix(s, "\u2212"):
		e.Hint = "write the minus sign as -"
	}
	return e
}

// unitHint says how a unit is written, if it is one of those that are wanted.
func unitHint(symbol, number, want string) string {
	rest := strings.TrimPrefix(symbol, ",")
	switch {
	case rest != symbol && numberLen(rest) > 0:
		return fmt.Sprintf("write decimals with a point, as in %s.%s", number, rest)
	case symbol[0] >= '0' && symbol[0] <= '9':
		return "write the number without spaces"
	}
	wanted := strings.FieldsFunc(want, func(r rune) bool { return r == ',' })
	fits := func(symbol string) bool {
		return !strings.Contains(want, "one of ") || slices.ContainsFunc(wanted, func(w string) bool { return strings.HasSuffix(w, " "+symbol) })
	}
	for _, s := range spellings {
		if s[0] == symbol && fits(s[1]) {
			return "write " + s[1]
		}
	}
	for _, u := range units {
		if strings.EqualFold(u.symbol, symbol) && fits(u.symbol) {
			return "write " + u.symbol
		}
	}
	return ""
}

// spellings holds what people write, and what is meant.
var spellings = [...][2]string{
	{"°C", "degC"}, {"C", "degC"}, {"°F", "degF"}, {"F", "degF"}, {"°", "deg"}, {"degrees", "deg"}, {"°/s", "deg/s"}, {"dps", "deg/s"},
	{"m/s²", "m/s2"}, {"m/s^2", "m/s2"}, {"m/s/s", "m/s2"}, {"m²", "m2"}, {"m^2", "m2"}, {"cm²", "cm2"}, {"cm^2", "cm2"}, {"kgm2", "kg m2"},
	{"kg*m2", "kg m2"}, {"kg m^2", "kg m2"}, {"kg m²", "kg m2"}, {"µs", "us"}, {"μs", "us"}, {"sec", "s"}, {"seconds", "s"}, {"msec", "ms"},
	{"minutes", "min"}, {"kph", "km/h"}, {"kmh", "km/h"}, {"kt", "kn"}, {"knots", "kn"}, {"fps", "ft/s"}, {"Ns", "N s"}, {"feet", "ft"},
	{"inch", "in"}, {"\"", "in"}, {"'", "ft"}, {"gs", "g0"}, {"Gs", "g0"}, {"metres", "m"}, {"meters", "m"}, {"lbs", "lb"}, {"volts", "V"},
}

// numberLen is the length of the decimal number that s starts with; 0 if it starts with none.
func numberLen(s string) int {
	i := 0
	if i < len(s) && (s[i] == '+' || s[i] == '-') {
		i++
	}
	whole := digits(s[i:])
	i += whole
	part := 0
	if i < len(s) && s[i] == '.' {
		part = digits(s[i+1:])
		i += 1 + part
	}
	if whole+part == 0 {
		return 0
	}
	if i < len(s) && (s[i] == 'e' || s[i] == 'E') {
		j := i + 1
		if j < len(s) && (s[j] == '+' || s[j] == '-') {
			j++
		}
		if n := digits(s[j:]); n > 0 {
			i = j + n
		}
	}
	return i
}

func digits(s string) int {
	for i := range len(s) {
		if s[i] < '0' || s[i] > '9' {
			return i
		}
	}
	return len(s)
}

func wanted(d Dimension) string {
	switch u := Units(d); {
	case d == Number:
		return "a plain number or a percentage"
	case len(u) == 1:
		return fmt.Sprintf("%s in %s", d, u[0])
	default:
		return fmt.Sprintf("%s in one of %s", d, strings.Join(u, ", "))
	}
}
