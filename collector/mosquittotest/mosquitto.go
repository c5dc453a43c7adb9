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
	run(t, program, fmt.Sprintf("%s\nallow_anonymous true\n", listener(t, address)))
	awaitListener(t, address)
	return "tcp://" + address
}

// Guard is what a guarded broker works with: names of files in the forms of
// Mosquitto's own documentation, mosquitto.conf(5).
type Guard struct {
	ACL, Passwords              string
	Authority, Certificate, Key string // PEM
}

// StartGuarded starts a broker that asks for a password on a plain listener, and
// on one with TLS for a certificate of the authority, whose common name is then
// the user's.
func StartGuarded(t testing.TB, g Guard) (plain, secure string) {
	t.Helper()
	program := find()
	if program == "" {
		t.Skip("left out: the tests against a real broker, as Mosquitto is not installed (apt-get install mosquitto)")
	}
	addresses := [2]string{freeAddress(t), freeAddress(t)}
	run(t, program, fmt.Sprintf(`per_listener_settings true
%s
allow_anonymous false
password_file %s
acl_file %s
%s
cafile %s
certfile %s
keyfile %s
require_certificate true
use_identity_as_username true
allow_anonymous false
acl_file %s
`, listener(t, addresses[0]), g.Passwords, g.ACL, listener(t, addresses[1]), g.Authority, g.Certificate, g.Key, g.ACL))
	for _, a := range addresses {
		awaitListener(t, a)
	}
	return "tcp://" + addresses[0], "ssl://" + addresses[1]
}

func listener(t testing.TB, address string) string {
	t.Helper()
	_, port, err := net.SplitHostPort(address)
	if err != nil {
		t.Fatal(err)
	}
	return fmt.Sprintf("listener %s 127.0.0.1", port)
}

// run runs a broker with some settings besides the usual until the test ends.
func run(t testing.TB, program, settings string) {
	t.Helper()
	command := exec.Command(program, "-c", writeConfig(t, settings))
	command.Stderr = os.Stderr
	if err := command.Start(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		_ = command.Process.Kill()
		_ = command.Wait()
	})
}

func find() string {
	for _, name := range []string{"mosquitto", "/usr/sbin/mosquitto", "/usr/local/sbin/mosquitto"} {
		if path, err := exec.LookPath(name); err == nil {
			return path
		}
	}
	return ""
}

func writeConfig(t testing.TB, settings string) string {
	t.Helper()
	dir := t.TempDir()
	config := fmt.Sprintf(`%spersistence true
persistence_location %s/
max_queued_messages 0
max_inflight_messages 0
log_type error
sys_interval 1
user root
`, settings, dir)
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
