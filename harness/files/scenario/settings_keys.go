package scenario

import (
	"drystage/harness/setting"
	"drystage/sim/quantity"
)

var settingsTable = &table{
	name: "a list of settings",
	doc:  "What the settings of a firmware are: a board's file that names this list by `settings_list`, and every scenario that uses the board, are held against it. `drystage play --list-settings` prints that of the built-in board.",
	rows: []row{
		kindRow("settings"),
		{key: "name", is: textLine{most: 60}, need: true, doc: "what the firmware is called"},
		{key: "settings", is: namedBlocks{of: settingTable, least: 1, most: 200, letters: 24, what: "a setting"}, need: true, doc: "each setting by its name"},
	},
}

var settingTable = &table{name: "a setting", doc: "One of a board's own settings.", rows: []row{
	{key: "is", is: words(settingWords()), need: true, doc: "what it means: output is the number of an output channel, or 0 for none; flag is true or false; count is a whole number; the rest are quantities"},
	{key: "from", is: amount{}, doc: "the least that the board takes; of an output default 0"},
	{key: "to", is: amount{}, doc: "the most that the board takes; of an output default 16"},
	{key: "default", is: settingShape{}, doc: "what the board has without it"},
	{key: "doc", is: textLine{most: 300}, doc: "what it does"},
}}

// settingWords are the words for what a setting means: the kinds that are no quantity, then the dimensions.
func settingWords() []string {
	list := []string{"output", "flag", "count"}
	for _, d := range quantity.Dimensions() {
		list = append(list, dimensionWord(d))
	}
	return list
}

// wholeKinds are the kinds of setting that are no quantity, in the order of settingWords.
var wholeKinds = [...]setting.Kind{setting.Output, setting.Flag, setting.Count}

// ofWord gives what a word of settingWords means.
func ofWord(i int) (k setting.Kind, d quantity.Dimension) {
	if i < len(wholeKinds) {
		return wholeKinds[i], quantity.Number
	}
	return setting.Quantity, quantity.Dimensions()[i-len(wholeKinds)]
}

// wordOf is the word for what a setting means.
func wordOf(s *setting.Def) string {
	for i, word := range settingWords() {
		if k, d := ofWord(i); k == s.Kind && d == s.Dim {
			return word
		}
	}
	return ""
}

// rangeOf is the range of a kind of setting whose range is fixed.
func rangeOf(k setting.Kind) (least, most float64, has bool) {
	switch k {
	case setting.Output:
		return 0, setting.MaxChannels, true
	case setting.Flag:
		return 0, 1, true
	}
	return 0, 0, false
}
