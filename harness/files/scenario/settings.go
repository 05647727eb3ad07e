package scenario

import (
	"fmt"
	"io/fs"
	"path"
	"slices"
	"strconv"
	"strings"

	"drystage/harness"
	"drystage/harness/setting"
	"drystage/sim/quantity"
)

// LoadSettings reads a list of settings. Any problem means that there is none; all come at once.
func LoadSettings(fsys fs.FS, name string) ([]setting.Def, []harness.Problem) {
	l := &loader{fsys: fsys}
	list := l.settingList(l.read(path.Clean(name), harness.Place{}))
	if len(l.problems) > 0 {
		return nil, l.sorted()
	}
	return list, nil
}

// settingList reads a file of settings.
func (l *loader) settingList(f *file) (list []setting.Def) {
	n := l.ofKind(f, "settings")
	if n == nil {
		return nil
	}
	o, _ := settingsTable.read(l, n).(*object)
	for _, e := range o.get("settings").entries() {
		l.checkLowerCase(e)
		if s := e.val.object(); s.get("is").ok() {
			list = append(list, l.settingDef(e.name, s))
		}
	}
	return list
}

func (l *loader) checkLowerCase(e entry) {
	if e.name != strings.ToLower(e.name) {
		l.report(harness.Problem{Place: e.at, Found: "setting " + quote(e.name), Wanted: "a name of small letters, digits and _"})
	}
}

func (l *loader) settingDef(name string, o *object) setting.Def {
	s := setting.Def{Name: name, Meaning: o.get("doc").text()}
	s.Kind, s.Dim = ofWord(slices.Index(settingWords(), o.get("is").text()))
	least, most, has := rangeOf(s.Kind)
	s.Min, s.Max = least, most
	known := 0
	for _, end := range []struct {
		key string
		to  *float64
	}{{"from", &s.Min}, {"to", &s.Max}} {
		v := o.get(end.key)
		switch {
		case !v.given && !has:
			l.report(harness.Problem{Place: o.at, Found: fmt.Sprintf("a setting without %q", end.key), Wanted: end.key + ": an end of its range"})
		case v.given && s.Kind == setting.Flag:
			l.report(harness.Problem{Place: v.at, Found: "an end of a range", Wanted: "a flag without one"})
		case v.ok():
			if !has {
				least, most = -setting.MaxValue, setting.MaxValue
			}
			if x, ok := l.settingValue(v, &setting.Def{Kind: s.Kind, Dim: s.Dim, Min: least, Max: most}); ok {
				*end.to = x
				known++
			}
		}
	}
	if (known == 2 || has) && s.Min > s.Max {
		l.report(harness.Problem{Place: o.get("from").at, Found: "a range from " + settingText(s.Min, &s) + " to " + settingText(s.Max, &s), Wanted: "the smaller end first"})
	}
	if v := o.get("default"); v.ok() {
		s.Default, _ = l.settingValue(v, &s)
	}
	return s
}

// settingValue reads the value of a setting in SI, and reports what the board would not take.
func (l *loader) settingValue(v value, s *setting.Def) (x float64, ok bool) {
	n := &node{at: v.at, kind: scalar, text: v.text()}
	switch s.Kind {
	case setting.Flag:
		i := slices.Index([]string{"false", "true", "0", "1"}, n.text)
		if i < 0 {
			l.report(harness.Problem{Place: n.at, Found: n.found(), Wanted: "true or false"})
		}
		return float64(i % 2), i >= 0
	case setting.Quantity:
		x, ok = quantityShape{s.Dim, s.Min, s.Max}.read(l, n).(float64)
	default:
		x, ok = number{s.Min, s.Max, true}.read(l, n).(float64)
	}
	return x, ok
}

// boardSettings is what settings a board has, to check those of files against.
type boardSettings struct {
	defs       []setting.Def
	unreadable bool // the board's list can't be read, which was reported
	hasList    bool // the board's file names a list
	outputs    []*object
}

// boardSettings finds the list of a board's file.
func (l *loader) boardSettings(o *object) boardSettings {
	b := boardSettings{defs: setting.Builtin(), outputs: o.get("outputs").objects(), hasList: o.get("settings_list").given}
	if b.hasList {
		before := len(l.problems)
		b.defs = nil
		if name, ok := l.resolve(o.get("settings_list")); ok {
			b.defs = l.settingList(l.read(name, o.get("settings_list").at))
		}
		b.unreadable = len(l.problems) > before || b.defs == nil
	}
	return b
}

// settings puts a file's settings over those that there are, each in the place where it first stood.
func (l *loader) settings(b *boardSettings, v value, list []harness.Setting) []harness.Setting {
	for _, e := range v.entries() {
		x, ok := l.setting(b, e)
		if !ok {
			continue
		}
		i := slices.IndexFunc(list, func(s harness.Setting) bool { return s.Name == e.name })
		if i < 0 {
			i, list = len(list), append(list, harness.Setting{Name: e.name})
		}
		list[i].Value = x
	}
	return list
}

// setting reads one setting; ok is false for one that is wrong, which was reported.
func (l *loader) setting(b *boardSettings, e entry) (x float64, ok bool) {
	if b.unreadable {
		return 0, false
	}
	i := slices.IndexFunc(b.defs, func(s setting.Def) bool { return s.Name == e.name })
	defer l.about(b.entry(i))()
	if i < 0 {
		l.report(harness.Problem{Place: e.at, Found: "unknown setting " + quote(e.name), Wanted: b.wanted(), Hint: b.hint(e.name)})
		return 0, false
	}
	if !e.val.ok() {
		return 0, false
	}
	s := &b.defs[i]
	if x, ok = l.settingValue(e.val, s); !ok {
		return 0, false
	}
	if s.Kind == setting.Output && x != 0 {
		ok = l.checkChannel(b, e, x)
	}
	return x, ok
}

// entry is the reference's of a setting: of the built-in board's list each has its own.
func (b *boardSettings) entry(i int) string {
	switch {
	case b.hasList:
		return "settings"
	case i < 0:
		return "mock.settings"
	}
	return "mock.settings." + b.defs[i].Name
}

// checkChannel reports a setting with the number of an output that its board does not have.
func (l *loader) checkChannel(b *boardSettings, e entry, channel float64) bool {
	var have []string
	for _, o := range b.outputs {
		c := o.get("channel")
		if !c.ok() || c.num() == channel {
			return true
		}
		have = append(have, fmt.Sprintf("%v (%s)", c.num(), o.get("name").text()))
	}
	if len(have) == 0 { // its outputs could not be read
		return true
	}
	l.report(harness.Problem{Place: e.val.at, Found: fmt.Sprintf("%s: %v, a channel without an output", e.name, channel), Wanted: "0 for none, or an output of the board: " + choices(have)})
	return false
}

func (b *boardSettings) wanted() string {
	if b.hasList {
		return "a setting of the list that the board's file names"
	}
	return "a setting of the built-in board, since the board's file names no other list"
}

func (b *boardSettings) hint(name string) string {
	var names []string
	for i := range b.defs {
		names = append(names, b.defs[i].Name)
	}
	hint := nearest(name, names)
	switch {
	case b.hasList && hint == "":
		hint = "the settings are " + choices(names)
	case !b.hasList:
		hint = strings.TrimPrefix(hint+" A firmware of your own has a list of its own, a file that the board's file names by `settings_list: FILE`; start from what `drystage play --list-settings` prints", " ")
	}
	return hint
}

// SettingsText writes a list of settings as a file that LoadSettings reads.
func SettingsText(name string, list []setting.Def) string {
	var b strings.Builder
	fmt.Fprintf(&b, "drystage: settings\nname: %s\nsettings:\n", strconv.Quote(name))
	for i := range list {
		s := &list[i]
		fmt.Fprintf(&b, "  %s: {is: %s", s.Name, wordOf(s))
		if s.Kind != setting.Flag {
			fmt.Fprintf(&b, ", from: %s, to: %s", settingText(s.Min, s), settingText(s.Max, s))
		}
		fmt.Fprintf(&b, ", default: %s, doc: %s}\n", settingText(s.Default, s), strconv.Quote(s.Meaning))
	}
	return b.String()
}

// settingText writes the value of a setting, in the unit that people use unless SI is shorter.
func settingText(x float64, s *setting.Def) string {
	if s.Kind == setting.Flag {
		return strconv.FormatBool(x != 0)
	}
	usual, si := quantity.Text(x, s.Dim), strings.TrimSpace(strconv.FormatFloat(x, 'f', -1, 64)+" "+quantity.Units(s.Dim)[0])
	if len(si) < len(usual) {
		return si
	}
	return usual
}

// dimensionWord is a dimension without its article.
func dimensionWord(d quantity.Dimension) string {
	_, word, _ := strings.Cut(d.String(), " ")
	return word
}

// Use tells how a scenario uses one of its boards, by the words of the files: the file of the board, and the
// settings that the scenario gives it. Any problem means that the scenario is wrong.
func Use(fsys fs.FS, name, role string) (file string, settings [][2]string, problems []harness.Problem) {
	l := &loader{fsys: fsys}
	o := l.like(path.Clean(name), harness.Place{}, nil)
	for _, e := range o.get("boards").entries() {
		if e.name != role {
			continue
		}
		file, _ = l.resolve(e.val.object().get("file"))
		for _, s := range e.val.object().get("settings").entries() {
			settings = append(settings, [2]string{s.name, s.val.text()})
		}
	}
	return file, settings, l.sorted()
}
