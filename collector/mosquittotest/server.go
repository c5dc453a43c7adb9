package mosquittotest

import (
	"fmt"
	"os"
	"os/exec"
	"syscall"
	"testing"
)

// Server is a broker that can be stopped and started again, on the same address
// and with what it has kept.
type Server struct {
	URL     string
	program string
	config  string
	address string
	command *exec.Cmd
}

// StartServer starts such a broker. It ends with the test. Where Mosquitto is not
// installed the test is skipped.
func StartServer(t testing.TB) *Server {
	t.Helper()
	program := find()
	if program == "" {
		t.Skip("left out: the tests against a real broker, as Mosquitto is not installed (apt-get install mosquitto)")
	}
	address := freeAddress(t)
	s := &Server{URL: "tcp://" + address, program: program, address: address,
		config: writeConfig(t, fmt.Sprintf("%s\nallow_anonymous true\n", listener(t, address)))}
	s.Run(t)
	t.Cleanup(func() { s.end(syscall.SIGKILL) })
	return s
}

// Run starts the broker again after Stop.
func (s *Server) Run(t testing.TB) {
	t.Helper()
	s.command = exec.Command(s.program, "-c", s.config)
	s.command.Stderr = os.Stderr
	if err := s.command.Start(); err != nil {
		t.Fatal(err)
	}
	awaitListener(t, s.address)
}

// Stop stops the broker as a service manager does: it writes down what it has
// queued for its sessions.
func (s *Server) Stop(t testing.TB) {
	t.Helper()
	s.end(syscall.SIGTERM)
}

func (s *Server) end(with syscall.Signal) {
	if s.command == nil {
		return
	}
	_ = s.command.Process.Signal(with)
	_ = s.command.Wait()
	s.command = nil
}
