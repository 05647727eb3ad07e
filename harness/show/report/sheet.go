package report

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"math"
	"strconv"
	"strings"

	"drystage/harness"
	"drystage/harness/judge/ready"
)

// Sheet words that every format shares. None of them ever says that something is ready to fly.
const (
	noPermission = "This sheet tells what was seen on a bench and what is open there. It is no permission to fly: your national code, your range safety officer and the makers' instructions decide."
	fieldTitle   = "On the field: what no bench can prove"
	fieldNote    = "Common practice, no source. Never counted among the open points, and never ticked by drystage."
	nothingOpen  = "Nothing is open on the bench. What no bench can prove still is."
	digestNote   = "One number for the logbook: the SHA-256 of the sorted lines \"record SHA256\", one per record, and \"scenario SHA256 NAME\", one per file that was compared."
	openNote     = "Words in CAPITALS in a command line are yours to fill in."
	faultsNote   = "A number says in how many records the fault changed something in that phase of flight."
	outputsNote  = "Demands and firings count in scenarios that pass; the closest call counts in all."
)

// emptySheet says that a sheet rests on nothing, which is an error in every format.
func emptySheet(s *ready.Sheet) bool { return len(s.Scenarios) == 0 }

// headline is the answer in one line.
func headline(s *ready.Sheet) string {
	text := fmt.Sprintf("%d of %s pass, %d fail, %d unsure; ", s.Pass, plural(s.All(), "scenario"), s.Fail, s.Unsure)
	switch open := len(s.Points); open {
	case 0:
		text += "no point is open on the bench"
	case 1:
		text += "1 point is open"
	default:
		text += fmt.Sprintf("%d points are open", open)
	}
	for _, p := range s.Points {
		if p.Kind.Set() {
			return text + "; these records are not one set"
		}
	}
	return text
}

// sheetDigest is the SHA-256 of all that a sheet was made of, in hex.
func sheetDigest(s *ready.Sheet) string {
	sum := sha256.Sum256([]byte(s.Inputs()))
	return hex.EncodeToString(sum[:])
}

// vehicleNames are the vehicles of a sheet.
func vehicleNames(s *ready.Sheet) string {
	if len(s.Vehicles) == 0 {
		return "a vehicle without a name"
	}
	return strings.Join(groupNames(s.Vehicles), " and ")
}

func groupNames(gs []ready.Group) []string {
	var names []string
	for _, g := range gs {
		names = append(names, g.Name)
	}
	return names
}

// groupText lists names with the number of their scenarios.
func groupText(gs []ready.Group) string {
	var parts []string
	for _, g := range gs {
		parts = append(parts, fmt.Sprintf("%s (%s)", g.Name, plural(len(g.Scenarios), "scenario")))
	}
	return strings.Join(parts, "; ")
}

// boardText names the boards of a role and where they were.
func boardText(b *ready.Board) string {
	names, at := "no name given at a handshake", "address not on record"
	if len(b.Names) > 0 {
		names = groupText(b.Names)
	}
	if len(b.Addresses) > 0 {
		at = "at " + strings.Join(groupNames(b.Addresses), "; ")
	}
	return names + ", " + at
}

// daysText tells what the scenarios that pass were flown in.
func daysText(d *ready.Days) string {
	if !d.Known {
		return "nothing passed"
	}
	const kelvin, deg = 273.15, 180 / math.Pi
	text := "steady wind " + rangeText(d.Wind.Least, d.Wind.Most, 1, "m/s")
	if d.Gust > 0 {
		text += fmt.Sprintf(", gusts up to %.1f m/s more", d.Gust)
	}
	return text + "; at the pad " + rangeText(d.Temperature.Least-kelvin, d.Temperature.Most-kelvin, 0, "degC") + ", " +
		rangeText(d.Pressure.Least/100, d.Pressure.Most/100, 0, "hPa") + "; rail " + rangeText(d.RailTilt.Least*deg, d.RailTilt.Most*deg, 1, "deg") + " off vertical"
}

// rangeText is "3.0 to 8.0 m/s", or "3.0 m/s" where both ends read alike.
func rangeText(least, most float64, decimals int, unit string) string {
	a, b := strconv.FormatFloat(round(least, decimals)+0, 'f', decimals, 64), strconv.FormatFloat(round(most, decimals)+0, 'f', decimals, 64)
	if a == b {
		return a + " " + unit
	}
	return a + " to " + b + " " + unit
}

// suiteText tells which suite the records were compared with.
func suiteText(s *ready.Suite) string {
	if !s.Compared {
		return "none was named: nothing was compared"
	}
	var n [ready.FlownAsItIs + 1]int
	for _, f := range s.Files {
		n[f.Flown]++
	}
	return fmt.Sprintf("%s: %d flown as they are today, %d changed since, %d without a record", plural(len(s.Files), "scenario file"), n[ready.FlownAsItIs], n[ready.FlownBefore], n[ready.NotFlown])
}

func madeText(m *harness.Maker) string {
	return fmt.Sprintf("drystage %s, %s, %s", m.Version, m.Go, m.Arch)
}

func outputText(o *ready.Output) string {
	var channels []string
	for _, c := range o.Channels {
		channels = append(channels, fmt.Sprint(c))
	}
	return "channel " + strings.Join(channels, " or ") + ", " + o.Does
}

// countsText is "fires 3, once 2"; none when there is nothing.
func countsText(cs []ready.Count) string {
	if len(cs) == 0 {
		return "nothing"
	}
	var parts []string
	for _, c := range cs {
		parts = append(parts, fmt.Sprintf("%s %d", c.Word, c.Scenarios))
	}
	return strings.Join(parts, ", ")
}

func firedText(o *ready.Output) string {
	if o.Fired == 0 {
		return "never"
	}
	return fmt.Sprintf("in %s: %d in lockstep, %d in real time", plural(o.Fired, "scenario"), o.Lockstep, o.RealTime)
}

func paceText(realTime bool) string {
	if realTime {
		return "real time"
	}
	return "lockstep"
}

// callText is "+0.121 s, 12 %".
func callText(c *ready.Call) string { return Margin(&c.Finding) + ", " + Percent(c.Finding.Share) }

// commandWords are the words of a line to paste, quoted for a shell.
func commandWords(words []string) []string {
	var out []string
	for _, w := range words {
		out = append(out, quote(Plain(w)))
	}
	return out
}
