package influxtest

import (
	"fmt"
	"go/build"
	"io"
	"math/rand/v2"
	"net"
	"net/http"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

const (
	// startTime is how long the server may take to answer on a busy machine.
	startTime = 2 * time.Minute
	// Ports are taken from below those that the system gives to connections: a
	// client that tries again and again to reach a killed server could otherwise
	// be given the server's own port, and keep it from coming back.
	firstPort, lastPort = 15000, 32000
)

// Server is a running InfluxDB.
type Server struct {
	URL     string
	dir     string
	program string
	address string
	rpc     string
	command *exec.Cmd
	ended   <-chan struct{} // closed when command has ended
	made    int             // databases
}

// Start starts a server on free loopback ports. It ends with the test. Where
// influxd is not installed the test is skipped.
func Start(t testing.TB) *Server {
	t.Helper()
	program := find()
	if program == "" {
		t.Skip("left out: the tests against a real InfluxDB, as influxd 1.8 is not installed (go install github.com/influxdata/influxdb/cmd/influxd@v1.8.10)")
	}
	s := &Server{program: program, dir: t.TempDir(), address: freeAddress(t), rpc: freeAddress(t)}
	s.URL = "http://" + s.address
	s.writeConfig(t)
	s.Run(t)
	t.Cleanup(s.Kill)
	return s
}

// find looks where the shell and where "go install" would.
func find() string {
	for _, name := range []string{"influxd", filepath.Join(build.Default.GOPATH, "bin", "influxd"), filepath.Join(os.Getenv("GOBIN"), "influxd")} {
		if path, err := exec.LookPath(name); err == nil {
			return path
		}
	}
	return ""
}

func (s *Server) writeConfig(t testing.TB) {
	t.Helper()
	config := fmt.Sprintf(`reporting-disabled = true
bind-address = %q
[meta]
  dir = %q
[data]
  dir = %q
  wal-dir = %q
  query-log-enabled = false
[monitor]
  store-enabled = false
[http]
  bind-address = %q
  flux-enabled = true
  log-enabled = false
[continuous_queries]
  log-enabled = false
[logging]
  level = "error"
  suppress-logo = true
`, s.rpc, filepath.Join(s.dir, "meta"), filepath.Join(s.dir, "data"), filepath.Join(s.dir, "wal"), s.address)
	if err := os.WriteFile(s.config(), []byte(config), 0o600); err != nil {
		t.Fatal(err)
	}
}

func (s *Server) config() string { return filepath.Join(s.dir, "influxdb.conf") }

// Run starts the server again after Kill, on the same ports and files.
func (s *Server) Run(t testing.TB) {
	t.Helper()
	s.command = exec.Command(s.program, "-config", s.config())
	s.command.Stderr = os.Stderr
	if err := s.command.Start(); err != nil {
		t.Fatal(err)
	}
	ended := make(chan struct{})
	command := s.command
	go func() { _ = command.Wait(); close(ended) }()
	s.ended = ended
	for began := time.Now(); time.Since(began) < startTime; {
		select {
		case <-ended:
			t.Fatalf("influxd ended at once: %v", command.ProcessState)
		default:
		}
		if resp, err := http.Get(s.URL + "/ping"); err == nil {
			_ = resp.Body.Close()
			return
		}
		time.Sleep(20 * time.Millisecond) // another process: there is nothing else to wait on
	}
	t.Fatalf("influxd does not answer at %s", s.URL)
}

// Kill ends the server at once, as a crash does.
func (s *Server) Kill() {
	if s.command == nil {
		return
	}
	_ = s.command.Process.Kill()
	<-s.ended
	s.command = nil
}

// NewDatabase makes an empty database.
func (s *Server) NewDatabase(t testing.TB) (name string) {
	t.Helper()
	s.made++
	name = fmt.Sprintf("test_%d", s.made)
	s.Do(t, `CREATE DATABASE "`+name+`"`)
	return name
}

// NewBucket makes an empty database and names its bucket.
func (s *Server) NewBucket(t testing.TB) (bucket string) {
	t.Helper()
	return s.NewDatabase(t) + "/autogen"
}

// Do gives the server a statement of its own query language.
func (s *Server) Do(t testing.TB, statement string) {
	t.Helper()
	resp, err := http.PostForm(s.URL+"/query", url.Values{"q": {statement}})
	if err != nil {
		t.Fatal(err)
	}
	defer resp.Body.Close()
	answer, err := io.ReadAll(resp.Body)
	if err != nil || resp.StatusCode != http.StatusOK || strings.Contains(string(answer), `"error"`) {
		t.Fatalf("%s: %s %s %v", statement, resp.Status, answer, err)
	}
}

func freeAddress(t testing.TB) string {
	t.Helper()
	for range 100 {
		address := fmt.Sprintf("127.0.0.1:%d", firstPort+rand.IntN(lastPort-firstPort))
		l, err := net.Listen("tcp", address)
		if err != nil {
			continue // taken
		}
		_ = l.Close()
		return address
	}
	t.Fatal("no free port was found")
	return ""
}
