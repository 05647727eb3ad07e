package report

import (
	"encoding/xml"
	"fmt"
	"io"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/joshdk/go-junit"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"drystage/harness"
)

// element is any XML element, so that order and attributes can be looked at.
type element struct {
	XMLName  xml.Name
	Attrs    []xml.Attr `xml:",any,attr"`
	Children []element  `xml:",any"`
	Text     string     `xml:",chardata"`
}

func (e *element) attr(name string) (string, bool) {
	for _, a := range e.Attrs {
		if a.Name.Local == name {
			return a.Value, true
		}
	}
	return "", false
}

// rules say what two published schemas demand of an element at once. Ant-style (windyroad/JUnit-Schema,
// commit cfa434d): the attributes in must, children in this order, testsuites without attributes, a
// timestamp without zone. The other (junit-10): time with at most three decimals, a testcase with a
// name. That a testcase has classname and time, a failure a type and a property a value is from memory.
var rules = map[string]struct {
	must     []string
	children []string // in this order
}{
	"testsuites": {nil, []string{"testsuite"}},
	"testsuite": {
		[]string{"name", "timestamp", "hostname", "tests", "failures", "errors", "time", "package", "id"},
		[]string{"properties", "testcase", "system-out", "system-err"},
	},
	"properties": {nil, []string{"property"}},
	"property":   {[]string{"name", "value"}, nil},
	"testcase":   {[]string{"name", "classname", "time"}, []string{"failure", "error"}},
	"failure":    {[]string{"type", "message"}, nil},
	"error":      {[]string{"type", "message"}, nil},
	"system-out": {}, "system-err": {},
}

var shapes = map[string]*regexp.Regexp{
	"timestamp": regexp.MustCompile(`^\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d$`),
	"time":      regexp.MustCompile(`^\d+(\.\d{0,3})?$`),
	"tests":     regexp.MustCompile(`^\d+$`), "failures": regexp.MustCompile(`^\d+$`), "errors": regexp.MustCompile(`^\d+$`), "id": regexp.MustCompile(`^\d+$`),
	"hostname": regexp.MustCompile(`^\S`), "type": regexp.MustCompile(`^\S`),
}

// breaks lists where a report breaks the rules.
func breaks(e *element) []string {
	rule, known := rules[e.XMLName.Local]
	if !known {
		return []string{"unknown element " + e.XMLName.Local}
	}
	var out []string
	for _, name := range rule.must {
		if _, ok := e.attr(name); !ok {
			out = append(out, e.XMLName.Local+" lacks "+name)
		}
	}
	for _, a := range e.Attrs {
		if !slices.Contains(rule.must, a.Name.Local) {
			out = append(out, e.XMLName.Local+" has "+a.Name.Local)
		}
		if shape := shapes[a.Name.Local]; shape != nil && e.XMLName.Local != "property" && !shape.MatchString(a.Value) {
			out = append(out, fmt.Sprintf("%s is %q", a.Name.Local, a.Value))
		}
	}
	last := 0
	for i := range e.Children {
		c := &e.Children[i]
		at := slices.Index(rule.children, c.XMLName.Local)
		if at < last {
			out = append(out, c.XMLName.Local+" out of place in "+e.XMLName.Local)
		}
		last = max(last, at)
		out = append(out, breaks(c)...)
	}
	return append(out, counts(e)...)
}

// counts wants both outputs once in a suite, its numbers to be true, and one trouble at most in a case.
func counts(e *element) []string {
	n := map[string]int{}
	for i := range e.Children {
		n[e.Children[i].XMLName.Local]++
		for j := range e.Children[i].Children {
			n[e.Children[i].Children[j].XMLName.Local]++
		}
	}
	var out []string
	switch e.XMLName.Local {
	case "testcase":
		if n["failure"]+n["error"] > 1 {
			out = append(out, "a testcase with two troubles")
		}
	case "testsuite":
		for _, name := range []string{"properties", "system-out", "system-err"} {
			if n[name] != 1 {
				out = append(out, fmt.Sprintf("%d times %s", n[name], name))
			}
		}
		for attr, child := range map[string]string{"tests": "testcase", "failures": "failure", "errors": "error"} {
			if v, _ := e.attr(attr); v != strconv.Itoa(n[child]) {
				out = append(out, fmt.Sprintf("%s says %s of %d", attr, v, n[child]))
			}
		}
	}
	return out
}

func parse(t *testing.T, s string) *element {
	var e element
	require.NoError(t, xml.Unmarshal([]byte(s), &e))
	return &e
}

func TestJUnitFulfilsBothSchemas(t *testing.T) {
	odd := suiteOfThree()
	odd[1].Findings[0].Reason = "a\x00b\x1b\ufffe\xff & <c> ]]>"
	for _, c := range []struct {
		reason string
		vs     []harness.Verdict
		opt    Options
	}{
		{"three scenarios", suiteOfThree(), options()},
		{"nothing known of the run", suiteOfThree(), Options{}},
		{"no findings", []harness.Verdict{{}}, options()},
		{"characters that XML can't hold", odd, options()},
	} {
		assert.Empty(t, breaks(parse(t, text(t, JUnit, c.vs, c.opt))), c.reason)
	}
}

func TestJUnitDropsWhatXMLCantHold(t *testing.T) {
	for _, c := range []struct{ reason, in, want string }{
		{"controls", "a\x00b\x1b[31m\x07", "ab[31m"},
		{"no characters", "a\ufffe\uffffb", "ab"},
		{"invalid UTF-8", "a\xff\xc3b", "a?b"},
		{"markup stays text", "a & <c> ]]>", "a & <c> ]]>"},
		{"any script", "二段式 ä", "二段式 ä"},
	} {
		vs := suiteOfThree()
		vs[1].Findings[0].Reason, vs[1].Name = c.in, c.in
		opt := options()
		opt.Host = c.in
		suites, err := junit.Ingest([]byte(text(t, JUnit, vs, opt)))
		require.NoError(t, err, c.reason)
		assert.Equal(t, c.want, suites[1].Tests[0].Message, c.reason)
		assert.Equal(t, c.want, suites[1].Name, c.reason)
		host, _ := parse(t, text(t, JUnit, vs, opt)).Children[1].attr("hostname")
		assert.Equal(t, c.want, host, c.reason)
	}
}

// The rules themselves have to be able to fail. Rows with (s) were seen to fail a published schema too.
func TestTheSchemaRulesNoticeWhatBreaksThem(t *testing.T) {
	good := text(t, JUnit, suiteOfThree(), options())
	for _, c := range []struct{ reason, old, new, says string }{
		{"no host (s)", ` hostname="bench"`, ``, "lacks hostname"},
		{"a zone in the timestamp (s)", `T13:00:00"`, `T13:00:00Z"`, "timestamp is"},
		{"system-out missing (s)", "system-out", "system-err", "0 times system-out"},
		{"four decimals", `time="0.412"`, `time="0.4115"`, "time is"},
		{"a wrong number", `failures="1"`, `failures="2"`, "failures says 2 of 1"},
		{"an attribute too many", `<testsuites`, `<testsuites tests="6"`, "testsuites has tests"},
		{"no type", ` type="fail"`, ``, "failure lacks type"},
	} {
		bad := strings.ReplaceAll(good, c.old, c.new)
		require.NotEqual(t, good, bad, c.reason)
		assert.Contains(t, strings.Join(breaks(parse(t, bad)), "; "), c.says, c.reason)
	}
}

// Another reader of the format understands what was meant.
func TestJUnitReadsBack(t *testing.T) {
	suites, err := junit.Ingest([]byte(text(t, JUnit, suiteOfThree(), options())))
	require.NoError(t, err)
	require.Len(t, suites, 3)
	var status []junit.Status
	for _, s := range suites {
		for _, c := range s.Tests {
			status = append(status, c.Status)
			assert.Equal(t, s.Name, c.Classname)
		}
	}
	assert.Equal(t, []junit.Status{"passed", "passed", "failed", "passed", "error", "error"}, status, "unsure is never passed, nor skipped")
	f := suites[1].Tests[0]
	assert.Equal(t, "fires: sustainer.drogue, from: apogee - 0.5 s, to: apogee + 1.5 s", f.Name)
	for _, words := range []string{"wanted: first on 12.345 s to 14.345 s", "seen: on at 4.120 s", "margin: -8.225 s, -823 %", "at: scenarios/early-spike.yaml:31:5"} {
		assert.Contains(t, f.Error.Error(), words)
	}
	assert.Contains(t, suites[1].SystemOut, "repeat: drystage bench scenarios/early-spike.yaml --seed 7")
	assert.Equal(t, "7", suites[1].Properties["seed"])
}

func TestJUnitEndsWhole(t *testing.T) {
	d := xml.NewDecoder(strings.NewReader(text(t, JUnit, suiteOfThree(), options())))
	for {
		if _, err := d.Token(); err == io.EOF {
			return
		} else {
			require.NoError(t, err)
		}
	}
}
