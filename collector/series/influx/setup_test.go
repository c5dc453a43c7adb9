package influx_test

import (
	"context"
	"encoding/json"
	"fmt"
	"io"
	"net/http"
	"net/http/httptest"
	"net/url"
	"slices"
	"strings"
	"testing"
	"time"

	"brinebell/collector/influxtest"
	"brinebell/collector/series"
	"brinebell/collector/series/influx"
	"brinebell/detect"
)

var wanted = influx.Setup{Retention: 100 * 24 * time.Hour, FiveMinutes: 1000 * 24 * time.Hour, Hours: 0}

// setUp does all that is missing and gives the texts.
func setUp(t *testing.T, s *influx.Store, want influx.Setup) (texts []string) {
	t.Helper()
	steps, err := s.Missing(context.Background(), want)
	if err != nil {
		t.Fatal(err)
	}
	for _, step := range steps {
		if step.Do == nil {
			continue // a remark
		}
		texts = append(texts, step.Text)
		if err := step.Do(context.Background()); err != nil {
			t.Fatalf("%s: %v", step.Text, err)
		}
	}
	return texts
}

// setupOfARealServer makes everything on InfluxDB 1.8, finds nothing missing
// then, changes what differs, and has the server run the downsampling.
func setupOfARealServer(t *testing.T, server *influxtest.Server) {
	s := open(t, influx.Options{URL: server.URL, Bucket: "new/autogen"})
	defer s.Close()
	if got := setUp(t, s, wanted); len(got) != 6 {
		t.Errorf("done: %q, want a database, its retention, two policies and two queries", got)
	}
	if got := setUp(t, s, wanted); len(got) != 0 {
		t.Errorf("done again: %q", got)
	}
	less := wanted
	less.Retention /= 2
	if got := setUp(t, s, less); len(got) != 0 {
		t.Errorf("shortened without being told to: %q", got)
	}
	less.Shorten = true
	if got := setUp(t, s, less); len(got) != 1 || !strings.Contains(got[0], "deletes what is older (it keeps for 100 days now)") {
		t.Errorf("shortened: %q", got)
	}
	server.Do(t, `DROP CONTINUOUS QUERY brinebell_hours ON "new"`)
	server.Do(t, `CREATE CONTINUOUS QUERY brinebell_hours ON "new" BEGIN SELECT mean("value") INTO "new"."hours".:MEASUREMENT FROM "new"."autogen"./.*/ GROUP BY time(1h), * END`)
	if got := setUp(t, s, less); len(got) != 2 {
		t.Errorf("a foreign query: %q, want it dropped and made again", got)
	}
}

// downsampledByTheServer runs the statement of the continuous query over a
// known stretch: a value of 0 to 59 each second makes 0, 29.5, 59 and 300 a
// window.
func downsampledByTheServer(t *testing.T, server *influxtest.Server) {
	s := open(t, influx.Options{URL: server.URL, Bucket: "down/autogen"})
	defer s.Close()
	setUp(t, s, influx.Setup{})
	var batch []detect.Reading
	for i := range 600 {
		batch = append(batch, detect.Reading{Home: "a", Signal: detect.InletFlow, Time: noon.Add(time.Duration(i) * time.Second), Value: float64(i % 60)})
	}
	if rejected, err := s.Append(context.Background(), batch); err != nil || len(rejected) > 0 {
		t.Fatal(rejected, err)
	}
	answer := influxQL(t, server, `SHOW CONTINUOUS QUERIES`)
	_, statement, ok := strings.Cut(answer, "brinebell_five_minutes ON down")
	_, statement, ok2 := strings.Cut(statement, "BEGIN ")
	statement, _, ok3 := strings.Cut(statement, " END")
	if !ok || !ok2 || !ok3 {
		t.Fatal(answer)
	}
	statement = strings.Replace(statement, "GROUP BY", fmt.Sprintf("WHERE time >= %d AND time < %d GROUP BY", noon.UnixNano(), noon.Add(time.Hour).UnixNano()), 1)
	statement = strings.NewReplacer(`down.`, `"down".`, `\"`, `"`).Replace(statement)
	influxQL(t, server, statement)
	got := influxQL(t, server, `SELECT "min","mean","max","count" FROM "down"."five_minutes"."inlet_flow" WHERE home='a'`)
	want := `"values":[["2026-03-01T12:00:00Z",0,29.5,59,300],["2026-03-01T12:05:00Z",0,29.5,59,300]]`
	if !strings.Contains(got, want) {
		t.Errorf("%s, want %s", got, want)
	}
	sums, err := s.Sums(context.Background(), "a", detect.InletFlow, noon, noon.Add(time.Hour), time.Minute)
	sum := series.Sum{Start: noon, Count: 300, Min: 0, Mean: 29.5, Max: 59}
	second := sum
	second.Start = noon.Add(5 * time.Minute)
	if err != nil || !slices.Equal(sums, []series.Sum{sum, second}) {
		t.Errorf("sums %+v %v", sums, err)
	}
}

func influxQL(t *testing.T, server *influxtest.Server, statement string) string {
	t.Helper()
	answer, err := http.PostForm(server.URL+"/query", url.Values{"q": {statement}})
	if err != nil {
		t.Fatal(err)
	}
	defer answer.Body.Close()
	body, err := io.ReadAll(answer.Body)
	if err != nil || strings.Contains(string(body), `"error"`) {
		t.Fatalf("%s: %s %v", statement, body, err)
	}
	return strings.ReplaceAll(string(body), `\u003e`, ">")
}

// fakeV2 is as much of InfluxDB 2's interface as a setup needs, as its reference
// describes it ("InfluxDB OSS v2 API": buckets, orgs, tasks).
type fakeV2 struct {
	buckets map[string]map[string]any
	tasks   map[string]map[string]any
}

func (f *fakeV2) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	w.Header().Set("X-Influxdb-Version", "v2.7.1")
	w.Header().Set("Content-Type", "application/json")
	var body map[string]any
	_ = json.NewDecoder(r.Body).Decode(&body)
	id := r.URL.Path[strings.LastIndex(r.URL.Path, "/")+1:]
	switch {
	case r.URL.Path == "/api/v2/setup":
		reply(w, map[string]any{"allowed": false})
	case strings.HasPrefix(r.URL.Path, "/api/v2/orgs"):
		reply(w, map[string]any{"orgs": []any{map[string]any{"id": "org-id", "name": "firm"}}})
	case strings.HasPrefix(r.URL.Path, "/api/v2/buckets"):
		f.serve(w, r, f.buckets, "buckets", id, body)
	case strings.HasPrefix(r.URL.Path, "/api/v2/tasks"):
		f.serve(w, r, f.tasks, "tasks", id, body)
	default:
		w.WriteHeader(http.StatusNotFound)
	}
}

func (f *fakeV2) serve(w http.ResponseWriter, r *http.Request, all map[string]map[string]any, kind, id string, body map[string]any) {
	switch r.Method {
	case http.MethodGet:
		found := []any{}
		if x, ok := all[r.URL.Query().Get("name")]; ok {
			found = append(found, x)
		}
		reply(w, map[string]any{kind: found})
	case http.MethodPost:
		name, _ := body["name"].(string)
		if flux, ok := body["flux"].(string); ok { // a task's name is in its script
			_, rest, _ := strings.Cut(flux, `name: "`)
			name, _, _ = strings.Cut(rest, `"`)
		}
		body["name"], body["id"] = name, name
		all[name] = body
		w.WriteHeader(http.StatusCreated)
		reply(w, body)
	case http.MethodPatch:
		for k, v := range body {
			all[id][k] = v
		}
		reply(w, all[id])
	}
}

func reply(w http.ResponseWriter, v any) { _ = json.NewEncoder(w).Encode(v) }

// TestSetupOfVersion2 holds the steps to the published interface, as no server of
// version 2 can be built from Go modules alone.
func TestSetupOfVersion2(t *testing.T) {
	f := &fakeV2{map[string]map[string]any{}, map[string]map[string]any{}}
	server := httptest.NewServer(f)
	defer server.Close()
	s := open(t, influx.Options{URL: server.URL, Org: "firm", Bucket: "homes", Token: "t"})
	defer s.Close()
	if got := setUp(t, s, wanted); len(got) != 5 {
		t.Errorf("done: %q, want three buckets and two tasks", got)
	}
	if got := setUp(t, s, wanted); len(got) != 0 {
		t.Errorf("done again: %q", got)
	}
	for name, seconds := range map[string]float64{"homes": 100 * 86400, "homes_five_minutes": 1000 * 86400, "homes_hours": 0} {
		rules, _ := f.buckets[name]["retentionRules"].([]any)
		if len(rules) != 1 || rules[0].(map[string]any)["everySeconds"] != seconds {
			t.Errorf("bucket %s: %v, want %v s", name, f.buckets[name], seconds)
		}
	}
	more := wanted
	more.Retention *= 2
	f.tasks["brinebell_hours"]["flux"] = "something else"
	if got := setUp(t, s, more); len(got) != 2 {
		t.Errorf("changed: %q, want a retention and a task", got)
	}
	if got := setUp(t, s, wanted); len(got) != 0 {
		t.Errorf("shortened without being told to: %q", got)
	}
}
