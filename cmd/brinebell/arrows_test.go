package main

import (
	"go/parser"
	"go/token"
	"io/fs"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
)

// The arrows of the architecture: what a folder may import of ours, and what of
// the standard library it must not touch, with the reason.
var arrows = []struct {
	folder  string
	allowed []string // prefixes of import paths in this module
	exact   []string // import paths in this module
	never   map[string]string
}{
	{"detect", []string{"brinebell/detect"}, nil, map[string]string{
		"os": "it does no I/O", "net": "it does no I/O", "net/http": "it does no I/O", "database/sql": "it does no I/O",
		"math/rand": "it draws no random numbers", "math/rand/v2": "it draws no random numbers",
		"sync": "it starts no goroutine", "log/slog": "it reports by its results"}},
	{"simulator", []string{"brinebell/simulator"}, []string{"brinebell/detect"}, nil},
	{"collector", []string{"brinebell/collector", "brinebell/detect"}, nil, nil},
	{"dashboards", []string{"brinebell/dashboards", "brinebell/detect"}, nil, nil},
}

func TestImportArrows(t *testing.T) {
	for _, a := range arrows {
		for path, imports := range importsBelow(t, filepath.Join("../..", a.folder)) {
			for _, i := range imports {
				if why, bad := a.never[i]; bad && !strings.HasSuffix(path, "_test.go") {
					t.Errorf("%s imports %s: %s is pure, %s", path, i, a.folder, why)
				}
				if strings.HasPrefix(i, "brinebell/") && !allowed(i, a.allowed, a.exact) {
					t.Errorf("%s imports %s: %s must not know it", path, i, a.folder)
				}
			}
		}
	}
}

func allowed(path string, prefixes, exact []string) bool {
	for _, p := range exact {
		if path == p {
			return true
		}
	}
	for _, p := range prefixes {
		if path == p || strings.HasPrefix(path, p+"/") {
			return true
		}
	}
	return false
}

// detect reads no clock and starts no goroutine: the same readings must always
// give the same alerts.
func TestDetectReadsNoClock(t *testing.T) {
	for path, text := range goFiles(t, "../../detect") {
		if strings.HasSuffix(path, "_test.go") {
			continue
		}
		for _, word := range []string{"time.Now(", "time.Since(", "time.Sleep(", "time.After(", "time.Tick(", "\tgo func"} {
			if strings.Contains(text, word) {
				t.Errorf("%s: %s", path, word)
			}
		}
	}
}

// Every package says what it is for.
func TestEveryPackageHasADocument(t *testing.T) {
	documented := map[string]bool{}
	for _, folder := range []string{"cmd", "collector", "detect", "simulator", "dashboards"} {
		for path, text := range goFiles(t, filepath.Join("../..", folder)) {
			dir := filepath.Dir(path)
			documented[dir] = documented[dir] || strings.Contains(text, "\n// Package ") || strings.HasPrefix(text, "// Package ") || strings.Contains(text, "// Command ") || strings.HasSuffix(path, "_test.go") && !hasSource(t, dir)
		}
	}
	for dir, ok := range documented {
		if !ok {
			t.Errorf("%s has no package document", dir)
		}
	}
}

func hasSource(t *testing.T, dir string) bool {
	files, err := filepath.Glob(filepath.Join(dir, "*.go"))
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range files {
		if !strings.HasSuffix(f, "_test.go") {
			return true
		}
	}
	return false
}

func importsBelow(t *testing.T, folder string) map[string][]string {
	t.Helper()
	found := map[string][]string{}
	for path, text := range goFiles(t, folder) {
		f, err := parser.ParseFile(token.NewFileSet(), path, text, parser.ImportsOnly)
		if err != nil {
			t.Fatal(err)
		}
		for _, i := range f.Imports {
			p, err := strconv.Unquote(i.Path.Value)
			if err != nil {
				t.Fatal(err)
			}
			found[path] = append(found[path], p)
		}
	}
	return found
}

func goFiles(t *testing.T, folder string) map[string]string {
	t.Helper()
	found := map[string]string{}
	err := filepath.WalkDir(folder, func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() || !strings.HasSuffix(path, ".go") {
			return err
		}
		b, err := os.ReadFile(path)
		found[path] = string(b)
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return found
}
