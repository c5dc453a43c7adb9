package collector_test

import (
	"io"
	"math/rand/v2"
	"net"
	"os/exec"
	"strings"
	"sync"
	"testing"
	"time"

	"brinebell/collector/mosquittotest"
)

// wire is a network connection between two programs that can be cut and can
// stop carrying anything without being cut.
type wire struct {
	listener net.Listener
	to       string

	mu    sync.Mutex // guards what follows
	open  []net.Conn
	stuck chan struct{} // not nil while nothing is carried; closed when it is again
	done  sync.WaitGroup
}

// newWire listens on a free address for what is to go to another one. It ends
// with the test.
func newWire(t *testing.T, to string) *wire {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	w := &wire{listener: l, to: to}
	w.done.Add(1)
	go w.accept()
	t.Cleanup(func() {
		_ = l.Close()
		w.carry()
		w.cut()
		w.done.Wait()
	})
	return w
}

func (w *wire) accept() {
	defer w.done.Done()
	for {
		a, err := w.listener.Accept()
		if err != nil {
			return
		}
		b, err := net.Dial("tcp", w.to)
		if err != nil {
			_ = a.Close()
			continue
		}
		w.mu.Lock()
		w.open = append(w.open, a, b)
		w.done.Add(2)
		w.mu.Unlock()
		go w.copy(a, b)
		go w.copy(b, a)
	}
}

// copy carries bytes one way until either end closes.
func (w *wire) copy(to, from net.Conn) {
	defer w.done.Done()
	defer to.Close()
	defer from.Close()
	buffer := make([]byte, 4096)
	for {
		n, err := from.Read(buffer)
		w.mu.Lock()
		stuck := w.stuck
		w.mu.Unlock()
		if stuck != nil {
			<-stuck
		}
		if n > 0 {
			if _, err := to.Write(buffer[:n]); err != nil {
				return
			}
		}
		if err != nil {
			return
		}
	}
}

// cut closes every connection.
func (w *wire) cut() {
	w.mu.Lock()
	defer w.mu.Unlock()
	for _, c := range w.open {
		_ = c.Close()
	}
	w.open = nil
}

// stick stops carrying, carry goes on.
func (w *wire) stick() {
	w.mu.Lock()
	defer w.mu.Unlock()
	if w.stuck == nil {
		w.stuck = make(chan struct{})
	}
}

func (w *wire) carry() {
	w.mu.Lock()
	defer w.mu.Unlock()
	if w.stuck != nil {
		close(w.stuck)
		w.stuck = nil
	}
}

// TestWireCarries holds the wire itself: what goes in comes out, and no more
// after a cut.
func TestWireCarries(t *testing.T) {
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer l.Close()
	go func() {
		c, err := l.Accept()
		if err == nil {
			_, _ = io.Copy(c, c)
			_ = c.Close()
		}
	}()
	w := newWire(t, l.Addr().String())
	c, err := net.Dial("tcp", w.listener.Addr().String())
	if err != nil {
		t.Fatal(err)
	}
	defer c.Close()
	if _, err := c.Write([]byte("x")); err != nil {
		t.Fatal(err)
	}
	got := make([]byte, 1)
	if _, err := io.ReadFull(c, got); err != nil || got[0] != 'x' {
		t.Errorf("%q %v", got, err)
	}
	w.cut()
	if _, err := io.ReadFull(c, got); err == nil {
		t.Error("the wire carries after it was cut")
	}
}

// TestHardWireCut cuts the network between the broker and the collector, or
// lets it stick for a while and then cuts it, five times a round.
func TestHardWireCut(t *testing.T) {
	rounds(t, func(t *testing.T, random *rand.Rand) {
		url := mosquittotest.Start(t)
		w := newWire(t, strings.TrimPrefix(url, "tcp://"))
		through := "tcp://" + w.listener.Addr().String()
		dir := t.TempDir()
		bad := func(t *testing.T, running *exec.Cmd, _ ...string) *exec.Cmd {
			if random.IntN(2) == 0 {
				w.stick()
				// However long it sticks nothing may be lost; the time is random.
				time.Sleep(time.Duration(random.IntN(200)) * time.Millisecond)
				w.carry()
			}
			w.cut()
			return running
		}
		strike(t, url, moments(random, 5), bad, "DIR="+dir, "URL="+through)
		verify(t, streamOptions(dir, "", url))
	})
}

// TestHardBrokerRestarted stops Mosquitto as a service manager does, twice a
// round, and starts it again.
func TestHardBrokerRestarted(t *testing.T) {
	rounds(t, func(t *testing.T, random *rand.Rand) {
		server := mosquittotest.StartServer(t)
		dir := t.TempDir()
		bad := func(t *testing.T, running *exec.Cmd, _ ...string) *exec.Cmd {
			server.Stop(t)
			server.Run(t)
			return running
		}
		strike(t, server.URL, moments(random, 2), bad, "DIR="+dir, "URL="+server.URL)
		verify(t, streamOptions(dir, "", server.URL))
	})
}
