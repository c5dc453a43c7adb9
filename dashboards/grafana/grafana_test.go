//lint:file-ignore SA1019 the older model of a dashboard is the one that every Grafana in use imports

package grafana

import (
	"bytes"
	"encoding/json"
	"flag"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/grafana/grafana-foundation-sdk/go/cog/plugins"
	"github.com/grafana/grafana-foundation-sdk/go/dashboard"
	"github.com/prometheus/prometheus/promql/parser"
)

var update = flag.Bool("update", false, "write the files in the folder json anew")

func files(t *testing.T) map[string][]byte {
	t.Helper()
	f, err := Files()
	if err != nil {
		t.Fatal(err)
	}
	return f
}

// TestFilesAreWhatTheCodeMakes holds the files that are kept to the code.
func TestFilesAreWhatTheCodeMakes(t *testing.T) {
	if *update {
		if err := Write("json"); err != nil {
			t.Fatal(err)
		}
	}
	for name, want := range files(t) {
		got, err := os.ReadFile(filepath.Join("json", name))
		if err != nil || !bytes.Equal(got, want) {
			t.Errorf("json/%s is not what the code makes (%v); go test ./dashboards/grafana -update", name, err)
		}
	}
	kept, err := filepath.Glob("json/*")
	if err != nil || len(kept) != len(files(t)) {
		t.Errorf("%v in the folder json %v", kept, err)
	}
}

// read reads a dashboard back into the SDK's model, in which nothing unknown and
// nothing malformed has a place.
func read(t *testing.T, name string, text []byte) (d dashboard.Dashboard) {
	t.Helper()
	plugins.RegisterDefaultPlugins()
	// Where the strict reader finds nothing wrong with a query it returns an empty
	// list of errors, not nil, and leaves the panel out; so it is read once more.
	var strict dashboard.Dashboard
	if err := strict.UnmarshalJSONStrict(text); err != nil && err.Error() != "" {
		t.Fatalf("%s: %v", name, err)
	}
	if err := json.Unmarshal(text, &d); err != nil {
		t.Fatalf("%s: %v", name, err)
	}
	if err := d.Validate(); err != nil {
		t.Fatalf("%s: %v", name, err)
	}
	return d
}

func TestFilesAreGrafanas(t *testing.T) {
	seen := map[string]bool{}
	for name, text := range files(t) {
		d := read(t, name, text)
		if d.Uid == nil || seen[*d.Uid] {
			t.Errorf("%s: uid %v is missing or taken", name, d.Uid)
			continue
		}
		seen[*d.Uid] = true
		panels(t, name, d)
	}
}

// panels holds each to the grid: none on another, none outside, all with
// queries.
func panels(t *testing.T, name string, d dashboard.Dashboard) {
	t.Helper()
	type cell struct{ x, y uint32 }
	taken := map[cell]string{}
	for _, p := range d.Panels {
		if p.Panel == nil {
			continue
		}
		title, g := *p.Panel.Title, p.Panel.GridPos
		if len(p.Panel.Targets) == 0 || g == nil || g.X+g.W > rowWidth || g.W == 0 || g.H == 0 {
			t.Errorf("%s, %q: %d queries at %+v", name, title, len(p.Panel.Targets), g)
			continue
		}
		for x := g.X; x < g.X+g.W; x++ {
			for y := g.Y; y < g.Y+g.H; y++ {
				if other, ok := taken[cell{x, y}]; ok {
					t.Fatalf("%s: %q lies on %q", name, title, other)
				}
				taken[cell{x, y}] = title
			}
		}
	}
	if len(taken) == 0 {
		t.Errorf("%s has no panels", name)
	}
}

// TestVariablesAreThere looks for each variable that a query uses.
func TestVariablesAreThere(t *testing.T) {
	for name, text := range files(t) {
		var d struct {
			Templating struct{ List []struct{ Name, Type string } }
		}
		if err := json.Unmarshal(text, &d); err != nil {
			t.Fatal(err)
		}
		known := map[string]bool{}
		for _, v := range d.Templating.List {
			known[v.Name] = true
		}
		for variable, uses := range map[string]string{"source": "${source}", "bucket": "${bucket}", "home": "${home:regex}", "instance": "$instance"} {
			if bytes.Contains(text, []byte(uses)) != known[variable] {
				t.Errorf("%s: the variable %s is defined: %v", name, variable, known[variable])
			}
		}
	}
}

func TestPromQueriesAreWellFormed(t *testing.T) {
	for _, q := range PromQueries() {
		text := strings.NewReplacer("$__rate_interval", "1m", "$instance", ".*").Replace(q.Text)
		if _, err := parser.NewParser(parser.Options{}).ParseExpr(text); err != nil {
			t.Errorf("%s, %s: %v", q.Dashboard, q.Panel, err)
		}
	}
	if n := len(FluxQueries()); n < 20 {
		t.Errorf("%d queries in Flux", n)
	}
}

func TestWriteMakesTheFolder(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "a", "b")
	if err := Write(dir); err != nil {
		t.Fatal(err)
	}
	if written, err := filepath.Glob(filepath.Join(dir, "*.json")); err != nil || len(written) != 3 {
		t.Error(written, err)
	}
}

func TestFluxQueriesCompare(t *testing.T) {
	a, b := flux{RefID: "A", Query: "x", Datasource: fromInflux.ref()}, flux{RefID: "A", Query: "y", Datasource: fromInflux.ref()}
	if !a.Equals(a) || a.Equals(b) || a.Equals(nil) || (flux{}).Validate() == nil || a.DataqueryType() != "influxdb" {
		t.Error("flux queries do not compare as they should")
	}
}
