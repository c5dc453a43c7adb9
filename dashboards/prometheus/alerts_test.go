package prometheus

import (
	"os"
	"os/exec"
	"strings"
	"testing"

	"github.com/prometheus/prometheus/promql/parser"
	"go.yaml.in/yaml/v3"
)

// promtool runs the tool of the Prometheus project, which must be content.
func promtool(t *testing.T, args ...string) {
	t.Helper()
	program, err := exec.LookPath("promtool")
	if err != nil {
		t.Skip("left out: what promtool checks, as it is not installed (apt-get install prometheus)")
	}
	if out, err := exec.Command(program, args...).CombinedOutput(); err != nil {
		t.Errorf("promtool %s: %v\n%s", strings.Join(args, " "), err, out)
	}
}

func TestAlertsFireWhenTheyMust(t *testing.T) { promtool(t, "test", "rules", "alerts_test.yaml") }

func TestRulesAreWellFormed(t *testing.T) { promtool(t, "check", "rules", "--lint=all", "alerts.yaml") }

func TestScrapeExampleIsWellFormed(t *testing.T) { promtool(t, "check", "config", "scrape.yaml") }

// rules are those of alerts.yaml.
type rules struct {
	Groups []struct {
		Name  string
		Rules []struct {
			Alert, Expr         string
			For                 string
			Labels, Annotations map[string]string
		}
	}
}

func readRules(t *testing.T) (r rules) {
	t.Helper()
	if err := yaml.Unmarshal(Alerts(), &r); err != nil {
		t.Fatal(err)
	}
	return r
}

// TestEveryAlertIsTestedBothWays looks for a time at which each alert fires and
// one at which it does not.
func TestEveryAlertIsTestedBothWays(t *testing.T) {
	text, err := os.ReadFile("alerts_test.yaml")
	if err != nil {
		t.Fatal(err)
	}
	var file struct {
		Tests []struct {
			Checks []struct {
				Expr    string
				Samples []any `yaml:"exp_samples"`
			} `yaml:"promql_expr_test"`
		}
	}
	if err := yaml.Unmarshal(text, &file); err != nil {
		t.Fatal(err)
	}
	fires, quiet := map[string]bool{}, map[string]bool{}
	for _, test := range file.Tests {
		for _, c := range test.Checks {
			_, name, _ := strings.Cut(c.Expr, `alertname="`)
			name, _, _ = strings.Cut(name, `"`)
			fires[name] = fires[name] || len(c.Samples) > 0
			quiet[name] = quiet[name] || len(c.Samples) == 0
		}
	}
	for _, g := range readRules(t).Groups {
		for _, r := range g.Rules {
			if !fires[r.Alert] || !quiet[r.Alert] {
				t.Errorf("%s: tested when it fires %v, when it is quiet %v", r.Alert, fires[r.Alert], quiet[r.Alert])
			}
		}
	}
}

// TestAlertsSayWhatToDo holds every rule to the same form.
func TestAlertsSayWhatToDo(t *testing.T) {
	seen := map[string]bool{}
	for _, g := range readRules(t).Groups {
		for _, r := range g.Rules {
			if seen[r.Alert] || !strings.HasPrefix(r.Alert, "Brinebell") {
				t.Errorf("%s: twice, or without the prefix that keeps it apart from others' alerts", r.Alert)
			}
			seen[r.Alert] = true
			if s := r.Labels["severity"]; s != "critical" && s != "warning" {
				t.Errorf("%s: severity %q", r.Alert, s)
			}
			if r.Annotations["summary"] == "" || len(r.Annotations["description"]) < 40 {
				t.Errorf("%s: it does not say what is wrong and what to do: %v", r.Alert, r.Annotations)
			}
			if _, err := parser.NewParser(parser.Options{}).ParseExpr(r.Expr); err != nil {
				t.Errorf("%s: %v", r.Alert, err)
			}
		}
	}
	if len(seen) < 10 {
		t.Errorf("%d alerts", len(seen))
	}
}
