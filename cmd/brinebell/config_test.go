package main

import (
	"bytes"
	"context"
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"testing"
	"time"

	"go.yaml.in/yaml/v3"

	"brinebell/detect"
)

// writeFile writes a file in a folder of the test.
func writeFile(t *testing.T, name, text string) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), name)
	if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
	return path
}

// Mistakes in a configuration are said with file, line and what to write, and
// never in the words of the program's inside.
func TestConfigMistakes(t *testing.T) {
	for _, c := range []struct{ text, want string }{
		{"colour: blue\n", `:1: unknown key "colour": use data, homes, listen`},
		{"broker:\n  listn: a\n", `:2: unknown key "listn": use listen, users, anonymous`},
		{"broker: {listen: \":0\"}\nretention: long\n", `:2: "long" is no length of time, as in 30 d`},
		{"broker: {listen: \":0\"}\nretention: 1 d\n", "retention: 1 d is less than late, 400 d"},
		{"broker: {listen: \":0\"}\nlog: {level: loud}\n", `:2: "loud": use debug, info, warn or error`},
		{"broker: {listen: \":0\"}\nlog: {format: xml}\n", `log.format: "xml": use text or json`},
		{"broker: yes\n", `:1: expected keys with values: listen, users`},
		{"broker: {listen: \":0\"}\nadapters: {topic: a}\n", ":2: expected a list"},
		{"broker: {listen: \":0\"}\nadapters:\n  - {topic: a, signal: inlet_flow, home: x, scale: big}\n", `:3: expected a number, found "big"`},
		{"broker: {listen: \":0\"}\nadapters:\n  - {topic: a, signal: inlet_flo, home: x}\n", "inlet_flow is near"},
		{"broker: {listen: \":0\", url: \"tcp://b:1\"}\n", "either listen"},
		{"broker: {listen: \"0.0.0.0\"}\n", `broker.listen: "0.0.0.0": write host:port`},
		{"broker: {listen: \":99999\"}\n", "a port is a number"},
		{"listen: x\nbroker: {listen: \":0\"}\n", `listen: "x": write host:port`},
		{"broker: {url: \"localhost:1883\"}\n", "broker.url: \"localhost:1883\": write scheme://host:port"},
		{"title: a\ntitle: b\n", `:2: the key "title" was given before, on line 1`},
		{"title: [\n", ": did not find expected node content"},
	} {
		_, err := readConfig(writeFile(t, "c.yaml", c.text))
		if err == nil || !strings.Contains(err.Error(), c.want) || !strings.Contains(err.Error(), "c.yaml:") {
			t.Errorf("%q: %v\nwant %s", c.text, err, c.want)
			continue
		}
		for _, inside := range []string{"main.", "!!", "unmarshal", "time.Duration", "0m0s", "adapter.Config"} {
			if strings.Contains(err.Error(), inside) {
				t.Errorf("%q: %v\nspeaks of %s", c.text, err, inside)
			}
		}
	}
}

func TestSpans(t *testing.T) {
	for text, want := range map[string]time.Duration{"30 d": 30 * 24 * time.Hour, "17520h": 17520 * time.Hour, "2 y": 17520 * time.Hour, "90 min": 90 * time.Minute,
		"1.5 h": 90 * time.Minute, "0": 0, "10s": 10 * time.Second} {
		var s span
		if err := yaml.Unmarshal([]byte(text), &s); err != nil || time.Duration(s) != want {
			t.Errorf("%q is %v (%v), want %v", text, time.Duration(s), err, want)
		}
		var again span
		if err := yaml.Unmarshal([]byte(s.String()), &again); err != nil || again != s {
			t.Errorf("%v is written %q, which is %v (%v)", time.Duration(s), s, time.Duration(again), err)
		}
	}
}

// Whoever adds a key to the configuration says in its doc tag what it is for.
func TestEveryConfigKeyIsExplained(t *testing.T) {
	var check func(at string, x reflect.Type)
	check = func(at string, x reflect.Type) {
		for x.Kind() == reflect.Slice || x.Kind() == reflect.Pointer {
			x = x.Elem()
		}
		if x.Kind() != reflect.Struct {
			return
		}
		for i := range x.NumField() {
			f := x.Field(i)
			if key := yamlKey(f); key != "" {
				if f.Tag.Get("doc") == "" {
					t.Errorf("%s.%s has no doc tag: brinebell help config cannot explain it", at, key)
				}
				check(at+"."+key, f.Type)
			}
		}
	}
	check("config", reflect.TypeFor[config]())
}

// What help gives as an example is read by what reads the files.
func TestHelpExamplesCanBeRead(t *testing.T) {
	example := func(text string) string {
		var lines []string
		for line := range strings.Lines(text) {
			if strings.HasPrefix(line, "  ") {
				lines = append(lines, line[2:])
			} else if len(lines) > 0 && strings.TrimSpace(line) != "" {
				break
			}
		}
		return strings.Join(lines, "")
	}
	homes, err := detect.ReadHomesNoting("help", strings.NewReader(example(homesTopic())), func(n string) { t.Error(n) })
	if err != nil || len(homes) != 2 {
		t.Errorf("%d homes: %v", len(homes), err)
	}
	for name, text := range map[string]string{"topic": configTopic(), "serve": serveCommand(streams{}).Long} {
		if c, err := readConfig(writeFile(t, "c.yaml", example(text))); err != nil || len(c.Adapters) != 1 {
			t.Errorf("%s: %+v %v", name, c, err)
		}
	}
}

func TestHelpTopics(t *testing.T) {
	for topic, want := range map[string][]string{
		"homes":   {"hardness:", "gpg", "else 300 mg/L", "salt_void:", "America/Chicago"},
		"config":  {"password_file:", "127.0.0.1:8480 when left out", "time_pointer:", "5 y when left out"},
		"signals": {"floor_wet", "uS/cm", "brine_level"},
		"faults":  {"flapper_leak", "away_from_home"},
	} {
		var out, errOut bytes.Buffer
		if code := run(context.Background(), []string{"help", topic}, nil, &out, &errOut); code != exitDone {
			t.Errorf("help %s: exit %d, %s", topic, code, &errOut)
		}
		for _, w := range want {
			if !strings.Contains(out.String(), w) {
				t.Errorf("help %s does not say %q", topic, w)
			}
		}
	}
}
