package report

import (
	"encoding/json"
	"io"
	"strconv"

	"drystage/harness/judge/coverage"
	"drystage/harness/judge/ready"
	"drystage/sim"
)

// sheetJSON is a readiness sheet for other programs. Answer is of the bench alone.
type sheetJSON struct {
	Answer    string           `json:"answer"`
	Note      string           `json:"note"`
	Passed    int              `json:"passed"`
	Failed    int              `json:"failed"`
	Unsure    int              `json:"unsure"`
	Points    []pointJSON      `json:"open"`
	Field     []string         `json:"field"`
	Vehicles  []groupJSON      `json:"vehicles"`
	Boards    []boardJSON      `json:"boards"`
	FlownBy   []groupJSON      `json:"flown_by"`
	JudgedBy  string           `json:"judged_by"`
	PassedIn  *daysJSON        `json:"passed_in,omitempty"` // without it nothing passed
	Suite     *suiteOfJSON     `json:"suite,omitempty"`     // without one nothing was compared
	Outputs   []outputJSON     `json:"outputs"`
	Closest   []callJSON       `json:"closest"`
	Tried     []triedJSON      `json:"faults_tried"`
	Never     []string         `json:"faults_never_tried"`
	Scenarios []ofScenarioJSON `json:"scenarios"`
	Digest    string           `json:"digest"`
	Foreign   []string         `json:"not_ours,omitempty"`
}

type pointJSON struct {
	Kind      string   `json:"kind"`
	Text      string   `json:"text"`
	Next      string   `json:"next,omitempty"`
	Command   []string `json:"command,omitempty"`
	Scenarios []string `json:"scenarios,omitempty"`
}

type groupJSON struct {
	Name      string   `json:"name"`
	Scenarios []string `json:"scenarios"`
}

type boardJSON struct {
	Role      string      `json:"role"`
	Names     []groupJSON `json:"names"`
	Addresses []groupJSON `json:"addresses"`
}

// daysJSON has [least, most] of what the scenarios that pass were flown in.
type daysJSON struct {
	Wind        [2]float64 `json:"wind_m_s"`
	Gust        float64    `json:"gust_m_s"`
	Temperature [2]float64 `json:"temperature_k"`
	Pressure    [2]float64 `json:"pressure_pa"`
	RailTilt    [2]float64 `json:"rail_tilt_rad"`
}

type suiteOfJSON struct {
	Files []suiteFileJSON `json:"files"`
}

type suiteFileJSON struct {
	Name   string `json:"name"`
	File   string `json:"file"`
	Digest string `json:"digest"`
	Flown  string `json:"flown"`
}

type outputJSON struct {
	Board    string         `json:"board"`
	Name     string         `json:"name"`
	Channels []int          `json:"channels"`
	Does     string         `json:"does"`
	Demands  map[string]int `json:"demands"`
	Fired    int            `json:"fired"`
	Lockstep int            `json:"fired_in_lockstep"`
	RealTime int            `json:"fired_in_real_time"`
	Known    map[string]int `json:"time_by"`
	Closest  *callJSON      `json:"closest,omitempty"`
}

type callJSON struct {
	Scenario string   `json:"scenario"`
	Record   string   `json:"record"`
	Pace     string   `json:"pace"`
	Text     string   `json:"expectation"`
	Place    string   `json:"place"`
	Answer   string   `json:"answer"`
	Margin   *float64 `json:"margin,omitempty"`
	Unit     string   `json:"unit,omitempty"`
	Share    *float64 `json:"share,omitempty"`
}

type triedJSON struct {
	Kind   string         `json:"fault"`
	Phases map[string]int `json:"scenarios_by_phase"`
}

type ofScenarioJSON struct {
	Name    string       `json:"name"`
	Title   string       `json:"title"`
	Answer  string       `json:"answer"`
	Records []recordJSON `json:"records"`
}

type recordJSON struct {
	Files  []string `json:"files"`
	Sum    string   `json:"sha256"`
	Digest string   `json:"scenario_sha256"`
	Seed   string   `json:"seed"` // as text: it may pass 2^53 (RFC 8259, section 6)
	Pace   string   `json:"pace"`
	Answer string   `json:"answer"`
}

// SheetJSON writes a readiness sheet as one JSON object (RFC 8259).
func SheetJSON(w io.Writer, s *ready.Sheet, opt Options) error {
	if emptySheet(s) {
		return ErrEmpty
	}
	d := sheetJSON{
		Answer: s.Answer().String(), Note: noPermission, Passed: s.Pass, Failed: s.Fail, Unsure: s.Unsure, Points: []pointJSON{}, Field: ready.Field(),
		Vehicles: groupsJSON(s.Vehicles), FlownBy: groupsJSON(s.Versions), JudgedBy: madeText(&opt.Made),
		Boards: []boardJSON{}, Outputs: []outputJSON{}, Closest: []callJSON{}, Tried: []triedJSON{}, Never: neverTried(&s.Tried), Digest: sheetDigest(s),
		Foreign: opt.Foreign,
	}
	for _, p := range s.Points {
		d.Points = append(d.Points, pointJSON{p.Kind.String(), p.Text, p.Next, p.Command, p.Scenarios})
	}
	for _, b := range s.Boards {
		d.Boards = append(d.Boards, boardJSON{b.Role, groupsJSON(b.Names), groupsJSON(b.Addresses)})
	}
	if x := &s.Days; x.Known {
		ends := func(r ready.Range) [2]float64 { return [2]float64{round(r.Least, 6), round(r.Most, 6)} }
		d.PassedIn = &daysJSON{ends(x.Wind), round(x.Gust, 6), ends(x.Temperature), ends(x.Pressure), ends(x.RailTilt)}
	}
	if s.Suite.Compared {
		d.Suite = &suiteOfJSON{[]suiteFileJSON{}}
		for _, f := range s.Suite.Files {
			d.Suite.Files = append(d.Suite.Files, suiteFileJSON{f.Name, f.File, f.Digest, f.Flown.String()})
		}
	}
	for i := range s.Outputs {
		d.Outputs = append(d.Outputs, outputOf(&s.Outputs[i]))
	}
	for i := range s.Closest {
		d.Closest = append(d.Closest, *callOf(&s.Closest[i]))
	}
	d.tried(s)
	for _, x := range s.Scenarios {
		j := ofScenarioJSON{Name: x.Name, Title: x.Title, Answer: x.Answer.String()}
		for _, r := range x.Records {
			j.Records = append(j.Records, recordJSON{r.Files, r.Sum, r.Digest, strconv.FormatUint(r.Seed, 10), paceText(r.RealTime), r.Answer.String()})
		}
		d.Scenarios = append(d.Scenarios, j)
	}
	e := json.NewEncoder(w)
	e.SetIndent("", "  ")
	e.SetEscapeHTML(false)
	return e.Encode(d)
}

func groupsJSON(gs []ready.Group) []groupJSON {
	out := []groupJSON{}
	for _, g := range gs {
		out = append(out, groupJSON(g))
	}
	return out
}

func outputOf(o *ready.Output) outputJSON {
	counts := func(cs []ready.Count) map[string]int {
		m := map[string]int{}
		for _, c := range cs {
			m[c.Word] = c.Scenarios
		}
		return m
	}
	return outputJSON{o.Role, o.Name, o.Channels, o.Does, counts(o.Demands), o.Fired, o.Lockstep, o.RealTime, counts(o.Known), callOf(o.Closest)}
}

func callOf(c *ready.Call) *callJSON {
	if c == nil {
		return nil
	}
	f := &c.Finding
	return &callJSON{c.Scenario, c.Record, paceText(c.RealTime), f.Text, f.Place.String(), f.Answer.String(), number(f.Margin), f.Unit, number(f.Share)}
}

// tried lists the kinds of fault that some record tried.
func (d *sheetJSON) tried(s *ready.Sheet) {
	for i, name := range sim.FaultKinds() {
		k := sim.FaultKind(i + 1)
		if !s.Tried.Ever(k) {
			continue
		}
		j := triedJSON{name, map[string]int{}}
		for p := range coverage.Phases {
			if n := s.Tried.Tried(k, p); n > 0 {
				j.Phases[p.String()] = n
			}
		}
		d.Tried = append(d.Tried, j)
	}
}
