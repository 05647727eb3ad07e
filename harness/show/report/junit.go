package report

import (
	"encoding/xml"
	"fmt"
	"io"
	"strings"
	"time"

	"drystage/harness"
)

// JUnit writes the verdicts as JUnit XML that fulfils both common schemas at once: that of Ant
// (every attribute and both outputs required, a fixed order, no zone in the timestamp) and that of
// continuous-integration servers (times with at most three decimals). A scenario is a testsuite, an
// expectation a testcase. Fail is a failure; unsure is an error, which JUnit means for a test that
// could not come to its answer. Neither can be taken for a pass, as a skipped one can.
func JUnit(w io.Writer, vs []harness.Verdict, opt Options) error {
	if len(vs) == 0 {
		return ErrEmpty
	}
	host := opt.Host
	if host == "" {
		host = "localhost"
	}
	var d suitesXML
	for i := range vs {
		s := suite(&vs[i], &opt)
		s.ID, s.Host = i, clean(host)
		s.Began = opt.Began.UTC().Format("2006-01-02T15:04:05")
		s.Time = seconds(opt.Took / time.Duration(len(vs)))
		d.Suites = append(d.Suites, s)
	}
	if _, err := io.WriteString(w, xml.Header); err != nil {
		return err
	}
	e := xml.NewEncoder(w)
	e.Indent("", "  ")
	if err := e.Encode(d); err != nil {
		return err
	}
	_, err := io.WriteString(w, "\n")
	return err
}

type suitesXML struct {
	XMLName xml.Name   `xml:"testsuites"`
	Suites  []suiteXML `xml:"testsuite"`
}

type suiteXML struct {
	Package    string        `xml:"package,attr"`
	ID         int           `xml:"id,attr"`
	Name       string        `xml:"name,attr"`
	Began      string        `xml:"timestamp,attr"`
	Host       string        `xml:"hostname,attr"`
	Tests      int           `xml:"tests,attr"`
	Failures   int           `xml:"failures,attr"`
	Errors     int           `xml:"errors,attr"`
	Time       string        `xml:"time,attr"`
	Properties []propertyXML `xml:"properties>property"`
	Cases      []caseXML     `xml:"testcase"`
	Out        string        `xml:"system-out"`
	Err        string        `xml:"system-err"`
}

type propertyXML struct {
	Name  string `xml:"name,attr"`
	Value string `xml:"value,attr"`
}

type caseXML struct {
	Name    string      `xml:"name,attr"`
	Class   string      `xml:"classname,attr"`
	Time    string      `xml:"time,attr"`
	Failure *troubleXML `xml:"failure"`
	Error   *troubleXML `xml:"error"`
}

type troubleXML struct {
	Message string `xml:"message,attr"`
	Type    string `xml:"type,attr"`
	Text    string `xml:",chardata"`
}

func suite(v *harness.Verdict, opt *Options) suiteXML {
	fs := Findings(v)
	s := suiteXML{
		Package: "drystage", Name: clean(v.Name), Tests: len(fs),
		Properties: []propertyXML{{"file", clean(v.File)}, {"seed", fmt.Sprint(v.Seed)}, {"digest", clean(v.Digest)}, {"verdict", v.Answer.String()}},
		Out:        clean(v.Title + "\nrepeat: " + Repeat(v, opt)),
	}
	for i := range v.Warned {
		s.Properties = append(s.Properties, propertyXML{"warning", clean(v.Warned[i].String())})
	}
	if v.NotFlown != "" {
		s.Properties = append(s.Properties, propertyXML{"not_flown", clean(v.NotFlown)})
	}
	if v.Timing.RealTime {
		s.Properties = append(s.Properties, propertyXML{"real_time", clean(Lateness(&v.Timing))}, propertyXML{"pacing", clean(v.Timing.How)})
		for _, c := range v.Clocks {
			s.Properties = append(s.Properties, propertyXML{"clock", clean(BoardClock(v, &c))})
		}
	}
	for _, x := range v.BoardAddresses {
		s.Properties = append(s.Properties, propertyXML{"board", clean(x.Role + " " + address(x))})
	}
	for _, name := range opt.Foreign {
		s.Properties = append(s.Properties, propertyXML{"not_ours", clean(name)})
	}
	for i := range fs {
		f := &fs[i]
		c := caseXML{Name: clean(f.Text), Class: clean(v.Name), Time: seconds(0)}
		switch f.Answer {
		case harness.Fail:
			s.Failures++
			c.Failure = trouble(f)
		case harness.Unsure:
			s.Errors++
			c.Error = trouble(f)
		}
		s.Cases = append(s.Cases, c)
	}
	return s
}

func trouble(f *harness.Finding) *troubleXML {
	lines := []string{f.Text}
	for _, l := range [...][2]string{{"at", f.Place.String()}, {"wanted", f.Wanted}, {"seen", f.Seen}, {"why", f.Reason}} {
		if l[1] != "" {
			lines = append(lines, l[0]+": "+l[1])
		}
	}
	if f.HasMargin {
		lines = append(lines, "margin: "+Margin(f)+", "+Percent(f.Share))
	}
	return &troubleXML{clean(f.Reason), f.Answer.String(), clean(strings.Join(lines, "\n"))}
}

func seconds(d time.Duration) string { return fmt.Sprintf("%.3f", d.Seconds()) }

// clean drops characters that XML 1.0 can't hold.
func clean(s string) string {
	return strings.Map(func(c rune) rune {
		if c == '\n' || c == '\t' || c >= ' ' && c != 0xfffe && c != 0xffff && !(c >= 0xd800 && c < 0xe000) {
			return c
		}
		return -1
	}, strings.ToValidUTF8(s, "?"))
}
