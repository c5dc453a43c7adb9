package link

import (
	"errors"
	"log/slog"
	"net"
	"sync"
	"time"
)

// DefaultHello leaves time for a TLS handshake over a bad mobile network. Without
// a bound, connections that say nothing would pile up.
const DefaultHello = 15 * time.Second

// acceptPause is how long to wait when no connection can be taken, as when the
// process has too many files open.
const acceptPause = 100 * time.Millisecond

// door is a listener whose clients must say who they are in good time: the
// library sets deadlines only from then on. It does not give up, as the library
// does at the first error, before it is closed. And it can be shut with nobody
// in it: the library must not be closed while it has yet to count a client that
// it was handed.
type door struct {
	net.Listener
	hello  time.Duration
	logger *slog.Logger

	mu     sync.Mutex // guards closed and within
	closed bool
	within int // connections handed out and not read from yet
	left   *sync.Cond
}

func newDoor(l net.Listener, hello time.Duration, logger *slog.Logger) *door {
	d := &door{Listener: l, hello: hello, logger: logger}
	d.left = sync.NewCond(&d.mu)
	return d
}

// Accept waits for a client.
func (d *door) Accept() (net.Conn, error) {
	for {
		c, err := d.Listener.Accept()
		if err == nil {
			if !d.enter() {
				_ = c.Close() // shut at this moment
				return nil, net.ErrClosed
			}
			_ = c.SetDeadline(time.Now().Add(d.hello)) // one that is gone already shows when it is read
			return &guest{Conn: c, pass: sync.OnceFunc(d.leave)}, nil
		}
		if errors.Is(err, net.ErrClosed) {
			return nil, err
		}
		d.logger.Error("a client could not connect", "error", err)
		time.Sleep(acceptPause)
	}
}

func (d *door) enter() bool {
	d.mu.Lock()
	defer d.mu.Unlock()
	if !d.closed {
		d.within++
	}
	return !d.closed
}

func (d *door) leave() {
	d.mu.Lock()
	defer d.mu.Unlock()
	d.within--
	d.left.Broadcast()
}

// shut lets nobody in any more, and waits until the library has counted all who
// were.
func (d *door) shut() {
	_ = d.Close() // the library closes it once more
	d.mu.Lock()
	defer d.mu.Unlock()
	for d.closed = true; d.within > 0; {
		d.left.Wait()
	}
}

// guest is a connection that has left the door with its first read, which the
// library makes once it has counted the client, or with its end.
type guest struct {
	net.Conn
	pass func()
}

func (g *guest) Read(b []byte) (int, error) {
	g.pass()
	return g.Conn.Read(b)
}

// bare is the connection that came through the listener.
func bare(c net.Conn) net.Conn {
	if g, ok := c.(*guest); ok {
		return g.Conn
	}
	return c
}

// Close closes the connection.
func (g *guest) Close() error {
	g.pass()
	return g.Conn.Close()
}
