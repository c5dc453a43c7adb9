package cause

import (
	"fmt"
	"io/fs"
	"maps"
	"slices"
	"strings"

	"go.yaml.in/yaml/v3"

	"brinebell/detect"
)

// Unit is what a number in evidence counts: "L", "L/min", "L/day", "kg", "kg/year",
// "g", "mm", "mm/h", "kPa", "W", "mg/L", "uS/cm", "min", "h", "days", "share" (0
// to 1, to be shown as per cent), "count", "money/h", "bed volumes"; empty where
// the value is no number.
type Unit string

// Fact says in plain words what one key of a finding's evidence means.
type Fact struct {
	Key    string
	Name   string
	Unit   Unit
	Says   map[string]string // plain words for values that are words; one not in it is shown as it is
	Expert bool              // for technicians: a household need not see it
}

// FactOf is what a key of evidence means; ok is false for one that nobody named.
func FactOf(key string) (f Fact, ok bool) {
	if i, ok := standardFacts.rank[key]; ok {
		return standardFacts.all[i], true
	}
	for _, family := range families {
		if signal, of := strings.CutSuffix(key, family.ending); of {
			if _, err := detect.ParseSignal(signal); err == nil {
				return Fact{Key: key, Name: family.name + strings.ReplaceAll(signal, "_", " "), Unit: family.unit}, true
			}
		}
	}
	return Fact{Key: key, Name: plainKey(key)}, false
}

// families are keys that begin with a signal's name.
var families = []struct {
	ending, name string
	unit         Unit
}{
	{"_minutes", "Minutes in the last day with a value that cannot be: ", "count"},
	{"_at", "Always the same value at: ", ""},
}

// SortedFacts lists what the evidence says, the most telling first, keys that
// nobody named last.
func SortedFacts(e detect.Evidence) []Fact {
	out := make([]Fact, 0, len(e))
	for _, key := range slices.Sorted(maps.Keys(e)) {
		f, _ := FactOf(key)
		out = append(out, f)
	}
	slices.SortStableFunc(out, func(a, b Fact) int { return standardFacts.rankOf(a.Key) - standardFacts.rankOf(b.Key) })
	return out
}

// In is the value in words: shares as per cent, numbers with their unit.
func (f Fact) In(value any) string {
	if word, ok := f.Says[fmt.Sprint(value)]; ok {
		return word
	}
	x, isNumber := number(value)
	switch {
	case !isNumber:
		return wordOf(value)
	case f.Unit == "share":
		return fmt.Sprintf("%.0f %%", 100*x)
	case f.Unit == "" || f.Unit == "count":
		return fmt.Sprintf("%.3g", x)
	}
	return fmt.Sprintf("%.3g %s", x, f.Unit)
}

func wordOf(value any) string {
	switch v := value.(type) {
	case string:
		return strings.ReplaceAll(v, "_", " ")
	case bool:
		return map[bool]string{true: "yes", false: "no"}[v]
	}
	return fmt.Sprint(value)
}

// factTable is the table evidence.yaml.
type factTable struct {
	all  []Fact
	rank map[string]int
}

func (t *factTable) rankOf(key string) int {
	if i, ok := t.rank[key]; ok {
		return i
	}
	return len(t.all)
}

var standardFacts = mustFacts(files)

func mustFacts(files fs.FS) *factTable {
	t, err := loadFacts(files)
	if err != nil {
		panic(fmt.Sprintf("the built-in words for evidence: %v", err))
	}
	return t
}

// loadFacts reads table/evidence.yaml in its own order.
func loadFacts(files fs.FS) (*factTable, error) {
	var sheet struct {
		Facts yaml.Node
		Says  map[string]map[string]string
	}
	text, err := fs.ReadFile(files, "table/evidence.yaml")
	if err == nil {
		err = yaml.Unmarshal(text, &sheet)
	}
	if err != nil {
		return nil, fmt.Errorf("evidence.yaml: %w", err)
	}
	t := &factTable{rank: map[string]int{}}
	for i := 0; i+1 < len(sheet.Facts.Content); i += 2 {
		key, row := sheet.Facts.Content[i], sheet.Facts.Content[i+1]
		if len(row.Content) != 3 || row.Content[0].Value == "" || row.Content[2].Value != "all" && row.Content[2].Value != "expert" {
			return nil, fmt.Errorf("evidence.yaml:%d: a line is key: [name, unit, all or expert]", key.Line)
		}
		t.rank[key.Value] = len(t.all)
		t.all = append(t.all, Fact{Key: key.Value, Name: row.Content[0].Value, Unit: Unit(row.Content[1].Value),
			Says: sheet.Says[key.Value], Expert: row.Content[2].Value == "expert"})
	}
	return t, nil
}
