package web

import (
	"slices"
	"strings"
	"testing"

	"golang.org/x/net/html"
)

func attribute(n *html.Node, key string) string {
	for _, a := range n.Attr {
		if a.Key == key {
			return a.Val
		}
	}
	return ""
}

// TestPagesCanBeHeard checks on every page what a screen reader needs, after
// WCAG 2.2: a language (3.1.1), a title (2.4.2), one main heading and none that
// skips a level (1.3.1), unique ids and references that lead somewhere, a name
// for every picture (1.1.1), every table's head scoped (1.3.1), every region
// that scrolls reached by the keyboard (2.1.1).
func TestPagesCanBeHeard(t *testing.T) {
	town := newFakeTown()
	s := newServer(t, town)
	pages := everyPage(town)
	pages["trouble"] = "/nowhere"
	for name, path := range pages {
		t.Run(name, func(t *testing.T) {
			doc, err := html.Parse(strings.NewReader(get(t, s, path).Body.String()))
			if err != nil {
				t.Fatal(err)
			}
			checkHeadings(t, doc)
			checkReferences(t, doc)
			for n := range doc.Descendants() {
				checkElement(t, n)
			}
		})
	}
}

func checkHeadings(t *testing.T, doc *html.Node) {
	var levels []int
	for n := range doc.Descendants() {
		if n.Type == html.ElementNode && len(n.Data) == 2 && n.Data[0] == 'h' && n.Data[1] >= '1' && n.Data[1] <= '6' {
			levels = append(levels, int(n.Data[1]-'0'))
		}
	}
	if len(levels) == 0 || levels[0] != 1 || slices.Contains(levels[1:], 1) {
		t.Errorf("headings %v: want one h1, first", levels)
	}
	for i := 1; i < len(levels); i++ {
		if levels[i] > levels[i-1]+1 {
			t.Errorf("headings %v: a level is skipped", levels)
		}
	}
}

func checkReferences(t *testing.T, doc *html.Node) {
	ids := map[string]int{}
	for n := range doc.Descendants() {
		if id := attribute(n, "id"); id != "" {
			ids[id]++
		}
	}
	for id, times := range ids {
		if times > 1 {
			t.Errorf("id %q is given %d times", id, times)
		}
	}
	for n := range doc.Descendants() {
		for _, id := range strings.Fields(attribute(n, "aria-labelledby")) {
			if ids[id] == 0 {
				t.Errorf("<%s> is named by %q, which is not there", n.Data, id)
			}
		}
	}
}

func checkElement(t *testing.T, n *html.Node) {
	named := attribute(n, "aria-label") != "" || attribute(n, "aria-labelledby") != ""
	switch {
	case n.Type != html.ElementNode:
	case n.Data == "html" && attribute(n, "lang") == "":
		t.Error("no language")
	case n.Data == "title" && n.Parent.Data == "head" && n.FirstChild == nil:
		t.Error("no title")
	case n.Data == "svg" && n.Parent.Data != "svg" && attribute(n, "aria-hidden") == "" && (attribute(n, "role") != "img" || !named):
		t.Errorf("a picture without a name: class %q", attribute(n, "class"))
	case n.Data == "th" && attribute(n, "scope") == "":
		t.Error("a table's head without scope")
	case strings.Contains(" "+attribute(n, "class")+" ", " scroll ") && (attribute(n, "tabindex") != "0" || !named):
		t.Error("a scrolling region out of the keyboard's reach")
	case n.Data == "nav" && !named:
		t.Error("a navigation without a name")
	}
}
