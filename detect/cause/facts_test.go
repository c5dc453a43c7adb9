package cause

import (
	"go/ast"
	"go/parser"
	"go/token"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"testing/fstest"

	"brinebell/detect"
)

// evidenceKey is what a key of evidence looks like.
var evidenceKey = regexp.MustCompile(`^[a-z]+(_[a-z0-9]+)*$`)

// Every key that a detector puts into evidence has a name in plain words: the
// keys are read from the detectors' own source.
func TestEveryKeyOfEvidenceHasAName(t *testing.T) {
	paths, err := filepath.Glob("../finding/*.go")
	if err != nil {
		t.Fatal(err)
	}
	seen := map[string]bool{}
	see := func(x ast.Expr) {
		lit, ok := x.(*ast.BasicLit)
		if !ok || lit.Kind != token.STRING {
			return
		}
		if key, err := strconv.Unquote(lit.Value); err == nil && evidenceKey.MatchString(key) {
			seen[key] = true
		}
	}
	for _, path := range paths {
		if strings.HasSuffix(path, "_test.go") {
			continue
		}
		file, err := parser.ParseFile(token.NewFileSet(), path, nil, 0)
		if err != nil {
			t.Fatal(err)
		}
		ast.Inspect(file, func(n ast.Node) bool {
			switch n := n.(type) {
			case *ast.CompositeLit:
				if s, ok := n.Type.(*ast.SelectorExpr); ok && s.Sel.Name == "Evidence" {
					for _, e := range n.Elts {
						see(e.(*ast.KeyValueExpr).Key)
					}
				}
			case *ast.IndexExpr:
				if id, ok := n.X.(*ast.Ident); ok && id.Name == "e" {
					see(n.Index)
				}
			case *ast.CallExpr:
				if id, ok := n.Fun.(*ast.Ident); ok && strings.HasPrefix(id.Name, "put") && len(n.Args) > 1 {
					see(n.Args[1])
				}
			}
			return true
		})
	}
	if len(seen) < 80 {
		t.Fatalf("only %d keys read from the detectors", len(seen))
	}
	for key := range seen {
		if f, ok := FactOf(key); !ok || strings.Contains(f.Name, "_") {
			t.Errorf("%s has no plain name in table/evidence.yaml", key)
		}
	}
	for _, f := range standardFacts.all {
		for _, jargon := range []string{"witness", "told apart", "episode", "z-score", "sigma"} {
			if strings.Contains(strings.ToLower(f.Name), jargon) {
				t.Errorf("%s: %q is jargon", f.Key, f.Name)
			}
		}
	}
}

func TestFactsInWords(t *testing.T) {
	for key, c := range map[string]struct {
		value any
		want  string
	}{
		"share_seen": {0.62, "62 %"}, "size_l_per_min": {0.5, "0.5 L/min"}, "told_apart": {true, "yes"}, "cut_short": {false, "no"},
		"witness": {"drain", "water from the softener's drain"}, "witness_uses": {8, "8"}, "why": {"something_else", "something else"},
	} {
		if f, ok := FactOf(key); !ok || f.In(c.value) != c.want {
			t.Errorf("%s: %q, want %q", key, f.In(c.value), c.want)
		}
	}
	e := detect.Evidence{"confidence": 0.9, "drawn_share": 0.5, "new_key": 1.0, "brine_level_at": 3.0}
	var order []string
	for _, f := range SortedFacts(e) {
		order = append(order, f.Key)
	}
	if strings.Join(order, " ") != "drawn_share confidence brine_level_at new_key" {
		t.Error(order)
	}
	if f, ok := FactOf("brine_level_at"); !ok || !strings.HasSuffix(f.Name, "brine level") {
		t.Error(f)
	}
	if _, err := loadFacts(fstest.MapFS{"table/evidence.yaml": {Data: []byte("facts:\n  x: [a, b]\n")}}); err == nil || !strings.Contains(err.Error(), ":2:") {
		t.Error(err)
	}
	if _, err := loadFacts(os.DirFS("/nowhere")); err == nil {
		t.Error("no file, no error")
	}
}

// The first of a ranking is never put forward as likely when it is not.
func TestStanding(t *testing.T) {
	for p, want := range map[float64]string{0.7: "", 0.4: "More than one", 0.1: "No cause stands out"} {
		if got := Standing([]detect.CauseShare{{Cause: detect.SealsWorn, Probability: p}}); !strings.HasPrefix(got, want) || want == "" && got != "" {
			t.Errorf("%v: %q", p, got)
		}
	}
	if Standing(nil) == "" {
		t.Error("nothing said of no causes")
	}
}
