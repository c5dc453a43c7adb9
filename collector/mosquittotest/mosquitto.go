package mosquittotest

import (
	"fmt"
	"net"
	"os"
	"os/exec"
	"path/filepath"
	"testing"
	"time"
)

// startTime is how long the broker may take to listen on a busy machine.
const startTime = 10 * time.Second

// Start starts a broker on a free loopback port and returns its URL. It ends
// with the test. Where Mosquitto is not installed the test is skipped.
func Start(t testing.TB) (url string) {
	t.Helper()
	program := find()
	if program == "" {
		t.Skip("left out: the tests against a real broker, as Mosquitto is not installed (apt-get install mosquitto)")
	}
	address := freeAddress(t)
	command := exec.Command(program, "-c", writeConfig(t, address))
	command.Stderr = os.Stderr
	if err := command.Start(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		_ = command.Process.Kill()
		_ = command.Wait()
	})
	awaitListener(t, address)
	return "tcp://" + address
}

func find() string {
	for _, name := range []string{"mosquitto", "/usr/sbin/mosquitto", "/usr/local/sbin/mosquitto"} {
		if path, err := exec.LookPath(name); err == nil {
			return path
		}
	}
	return ""
}

func writeConfig(t testing.TB, address string) string {
	t.Helper()
	dir := t.TempDir()
	_, port, err := net.SplitHostPort(address)
	if err != nil {
		t.Fatal(err)
	}
	config := fmt.Sprintf(`listener %s 127.0.0.1
allow_anonymous true
persistence true
persistence_location %s/
max_queued_messages 0
max_inflight_messages 0
log_type error
sys_interval 1
user root
`, port, dir)
	path := filepath.Join(dir, "mosquitto.conf")
	if err := os.WriteFile(path, []byte(config), 0o600); err != nil {
		t.Fatal(err)
	}
	return path
}

func freeAddress(t testing.TB) string {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer l.Close()
	return l.Addr().String()
}

func awaitListener(t testing.TB, address string) {
	t.Helper()
	for began := time.Now(); time.Since(began) < startTime; {
		c, err := net.DialTimeout("tcp", address, time.Second)
		if err == nil {
			_ = c.Close()
			return
		}
		time.Sleep(10 * time.Millisecond) // another process: there is nothing else to wait on
	}
	t.Fatalf("mosquitto does not listen on %s", address)
}
