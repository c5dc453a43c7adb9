package fleet

import (
	"bufio"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"strings"

	"go.yaml.in/yaml/v3"

	"brinebell/detect"
)

// MaxRows bounds a table.
const MaxRows = 20_000

// Row is a home of the table.
type Row struct {
	Line    int // in the file, from 1
	Home    detect.Home
	Profile string // as text, for detect.ReadHome
	Firm    string // empty when the cell is
	Area    string
	Devices []string
}

// Bad is something wrong with the table.
type Bad struct {
	Line   int    `json:"line"`   // in the file, from 1
	Column string `json:"column"` // empty when it is about the row as a whole
	Why    string `json:"why"`
}

// Error names line, column and reason.
func (b Bad) Error() string {
	if b.Column == "" {
		return fmt.Sprintf("line %d: %s", b.Line, b.Why)
	}
	return fmt.Sprintf("line %d, %s: %s", b.Line, b.Column, b.Why)
}

// Read reads a table. Rows are those with nothing wrong; bad is all that is, in
// order.
func Read(in io.Reader) (rows []Row, bad []Bad) {
	r := csv.NewReader(skipMark(in))
	r.FieldsPerRecord = -1
	header, err := r.Read()
	if err != nil {
		return nil, []Bad{{1, "", "the first line must name the columns: " + strings.TrimSpace(Header())}}
	}
	t := &table{seen: map[string]int{}}
	if t.header(header); len(t.bad) > 0 {
		return nil, t.bad
	}
	for {
		cells, err := r.Read()
		if errors.Is(err, io.EOF) {
			return t.rows, t.bad
		}
		line, _ := r.FieldPos(0)
		if wrong := (*csv.ParseError)(nil); errors.As(err, &wrong) {
			t.bad = append(t.bad, Bad{wrong.Line, "", "not CSV: " + wrong.Err.Error()})
			continue
		}
		if err != nil {
			t.bad = append(t.bad, Bad{line, "", err.Error()})
			return t.rows, t.bad
		}
		if len(t.rows)+len(t.bad) >= MaxRows {
			t.bad = append(t.bad, Bad{line, "", fmt.Sprintf("more than %d rows: split the table", MaxRows)})
			return t.rows, t.bad
		}
		t.row(line, cells)
	}
}

// skipMark passes over the byte order mark that spreadsheets write.
func skipMark(in io.Reader) io.Reader {
	b := bufio.NewReader(in)
	if mark, err := b.Peek(3); err == nil && string(mark) == "\xef\xbb\xbf" {
		_, _ = b.Discard(3) // they are there
	}
	return b
}

// table is a table being read.
type table struct {
	columns []Column
	rows    []Row
	bad     []Bad
	seen    map[string]int // lines of ids
}

func (t *table) header(names []string) {
	have := map[string]bool{}
	for _, name := range names {
		name = strings.TrimSpace(name)
		c, ok := columnNamed(name)
		switch {
		case !ok:
			t.bad = append(t.bad, Bad{1, name, "no such column: use " + strings.TrimSpace(Header())})
		case have[name]:
			t.bad = append(t.bad, Bad{1, name, "given twice"})
		}
		have[name] = true
		t.columns = append(t.columns, c)
	}
	for _, needed := range []string{"id", "timezone"} {
		if !have[needed] {
			t.bad = append(t.bad, Bad{1, needed, "missing: every home needs it"})
		}
	}
}

func (t *table) row(line int, cells []string) {
	if len(cells) != len(t.columns) {
		t.bad = append(t.bad, Bad{line, "", fmt.Sprintf("%d cells, where the header has %d", len(cells), len(t.columns))})
		return
	}
	row := Row{Line: line}
	root := &yaml.Node{Kind: yaml.MappingNode}
	for i, c := range t.columns {
		cell := strings.TrimSpace(cells[i])
		switch {
		case cell == "":
		case c.Key != "":
			set(root, strings.Split(c.Key, "."), cell)
		case c.Name == "firm":
			row.Firm = cell
		case c.Name == "area":
			row.Area = cell
		case c.Name == "devices":
			row.Devices = strings.Fields(cell)
		}
	}
	if t.profile(&row, root) {
		t.rows = append(t.rows, row)
	}
}

// set puts a value under a path of keys.
func set(n *yaml.Node, path []string, value string) {
	for i := 0; i+1 < len(n.Content); i += 2 {
		if n.Content[i].Value == path[0] {
			set(n.Content[i+1], path[1:], value)
			return
		}
	}
	child := &yaml.Node{Kind: yaml.MappingNode}
	if len(path) == 1 {
		child = &yaml.Node{Kind: yaml.ScalarNode, Value: value}
	} else {
		set(child, path[1:], value)
	}
	n.Content = append(n.Content, &yaml.Node{Kind: yaml.ScalarNode, Value: path[0]}, child)
}

// profile reads the row's profile, or notes all that is wrong with it.
func (t *table) profile(row *Row, root *yaml.Node) bool {
	text, err := yaml.Marshal(root)
	if err != nil {
		t.bad = append(t.bad, Bad{row.Line, "", err.Error()})
		return false
	}
	row.Profile = string(text)
	row.Home, err = detect.ReadHome("", row.Profile)
	good := err == nil
	for _, wrong := range each(err) {
		t.bad = append(t.bad, located(row.Line, wrong.Error()))
	}
	if first, twice := t.seen[row.Home.ID]; twice && row.Home.ID != "" {
		t.bad = append(t.bad, Bad{row.Line, "id", fmt.Sprintf("%s is also on line %d", row.Home.ID, first)})
		good = false
	} else {
		t.seen[row.Home.ID] = row.Line
	}
	return good
}

// each takes a joined error apart.
func each(err error) []error {
	if joined, ok := err.(interface{ Unwrap() []error }); ok {
		return joined.Unwrap()
	}
	if err == nil {
		return nil
	}
	return []error{err}
}

// located puts what a profile's reader says, ":line: key: why", into the words of
// the table.
func located(line int, text string) Bad {
	part := strings.SplitN(text, ": ", 3)
	if len(part) < 3 {
		return Bad{line, "", text}
	}
	return Bad{line, columnOf(part[1]), part[2]}
}
