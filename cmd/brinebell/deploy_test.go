package main

import (
	"bytes"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
)

const deploy = "deploy"

func deployed(t *testing.T, name string) string {
	t.Helper()
	text, err := os.ReadFile(filepath.Join(deploy, name))
	if err != nil {
		t.Fatal(err)
	}
	return string(text)
}

// The unit is well formed, and as closed as systemd's own audit asks of a
// service that needs the network: below 1.5 of 10.
func TestUnit(t *testing.T) {
	program, err := exec.LookPath("systemd-analyze")
	if err != nil {
		t.Skip("left out: the service's unit, as systemd-analyze is not installed")
	}
	unit := strings.Replace(deployed(t, "brinebell.service"), "/usr/local/bin/brinebell", "/bin/true", 1)
	path := filepath.Join(t.TempDir(), "brinebell.service")
	if err := os.WriteFile(path, []byte(unit), 0o600); err != nil {
		t.Fatal(err)
	}
	for _, args := range [][]string{{"verify", "--man=no"}, {"security", "--offline=true", "--threshold=15"}} {
		out, err := exec.Command(program, append(args, path)...).CombinedOutput()
		if err != nil && bytes.Contains(out, []byte("unrecognized option")) {
			t.Logf("systemd-analyze is too old for %v", args)
		} else if err != nil {
			t.Errorf("%v: %v\n%s", args, err, out)
		}
	}
}

// The unit, the container and the configuration speak of the same places.
func TestPlacesAgree(t *testing.T) {
	c, err := readConfig(filepath.Join(deploy, "brinebell.yaml"))
	if err != nil {
		t.Fatal(err)
	}
	if c.Data != "/var/lib/brinebell" || c.Broker.URL == "" {
		t.Errorf("%+v", c)
	}
	for name, wants := range map[string][]string{
		"brinebell.service": {"StateDirectory=brinebell\n", "WorkingDirectory=" + c.Data + "\n", "serve --config /etc/brinebell/brinebell.yaml\n", "TimeoutStopSec=60\n"},
		"Containerfile":     {"VOLUME " + c.Data + "\n", "USER 65532", `"/etc/brinebell/brinebell.yaml"`, "STOPSIGNAL SIGTERM", "CGO_ENABLED=0"},
		"release.sh":        {"CGO_ENABLED=0", "linux/amd64 linux/arm64", "-trimpath", "sha256sum", "main.version="},
	} {
		text := deployed(t, name)
		for _, want := range wants {
			if !strings.Contains(text, want) {
				t.Errorf("%s: no %q", name, want)
			}
		}
	}
}

// What the container is built from is there, and its Go is that of go.mod.
func TestContainerfile(t *testing.T) {
	text := deployed(t, "Containerfile")
	for _, m := range regexp.MustCompile(`(?m)^COPY ([a-z][\w. ]*) \S+$`).FindAllStringSubmatch(text, -1) {
		for _, name := range strings.Fields(m[1]) {
			if _, err := os.Stat(filepath.Join("../..", name)); err != nil {
				t.Errorf("it copies what is not there: %v", err)
			}
		}
	}
	module, err := os.ReadFile("../../go.mod")
	if err != nil {
		t.Fatal(err)
	}
	version := regexp.MustCompile(`(?m)^go (\d+\.\d+)`).FindStringSubmatch(string(module))[1]
	if !strings.Contains(text, "/golang:"+version+" ") {
		t.Errorf("go.mod asks for Go %s", version)
	}
}

// What is said of Mosquitto is what the tests run it with, in which nothing is
// lost.
func TestMosquittoSettings(t *testing.T) {
	text := deployed(t, "mosquitto.conf")
	for _, want := range []string{"max_queued_messages 0 ", "max_inflight_messages 0 ", "persistence true "} {
		if !strings.Contains(text, "\n"+want) {
			t.Errorf("no %q", want)
		}
	}
}

// The scripts are what bash reads.
func TestScripts(t *testing.T) {
	bash, err := exec.LookPath("bash")
	if err != nil {
		t.Skip("left out: the release script, as there is no bash")
	}
	if out, err := exec.Command(bash, "-n", filepath.Join(deploy, "release.sh")).CombinedOutput(); err != nil {
		t.Errorf("%v %s", err, out)
	}
}
