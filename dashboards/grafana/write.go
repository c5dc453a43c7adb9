//lint:file-ignore SA1019 the older model of a dashboard is the one that every Grafana in use imports

package grafana

import (
	"bytes"
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"

	"github.com/grafana/grafana-foundation-sdk/go/dashboard"
)

// makers make the dashboards, by the names of their files.
func makers() map[string]func() (dashboard.Dashboard, error) {
	return map[string]func() (dashboard.Dashboard, error){"home.json": home, "firm.json": firm, "collector.json": collector}
}

// Files are the dashboards as Grafana imports them, by the name of their file.
func Files() (map[string][]byte, error) {
	files := map[string][]byte{}
	for name, makeIt := range makers() {
		d, err := makeIt()
		if err != nil {
			return nil, fmt.Errorf("%s: %w", name, err)
		}
		var text bytes.Buffer
		encoder := json.NewEncoder(&text)
		encoder.SetIndent("", "  ")
		encoder.SetEscapeHTML(false) // people read the queries
		if err := encoder.Encode(d); err != nil {
			return nil, fmt.Errorf("%s: %w", name, err)
		}
		files[name] = text.Bytes()
	}
	return files, nil
}

// Write writes the files to a folder, which is made if need be.
func Write(dir string) error {
	files, err := Files()
	if err != nil {
		return err
	}
	if err := os.MkdirAll(dir, 0o755); err != nil { // #nosec G301 -- meant to be read by others: nothing secret is in it
		return err
	}
	for name, text := range files {
		if err := os.WriteFile(filepath.Join(dir, name), text, 0o644); err != nil { // #nosec G306 -- meant to be read by others: nothing secret is in it
			return err
		}
	}
	return nil
}

// PromQueries are all queries to Prometheus.
func PromQueries() []Query { return queriesOf("collector", collectorGroups()) }

// FluxQueries are all queries to InfluxDB, that for the choice of homes too.
func FluxQueries() []Query {
	all := queriesOf("home", homeGroups())
	all = append(all, queriesOf("firm", firmGroups())...)
	return append(all, Query{Dashboard: "home", Panel: "choice of homes", Text: homesQuery})
}
