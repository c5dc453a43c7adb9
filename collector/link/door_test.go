package link

import (
	"errors"
	"log/slog"
	"net"
	"testing"
	"testing/synctest"
	"time"
)

// handing is a listener that hands out what is sent to it.
type handing struct {
	net.Listener
	next chan net.Conn
}

func (h handing) Accept() (net.Conn, error) { return <-h.next, nil }
func (handing) Close() error                { return nil }

// TestADoorIsShutWithNobodyInIt shuts a door after which one has been handed
// out, and another comes at that moment.
func TestADoorIsShutWithNobodyInIt(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		l := handing{next: make(chan net.Conn, 2)}
		d := newDoor(l, time.Minute, slog.New(slog.DiscardHandler))
		first, far := net.Pipe()
		second, late := net.Pipe()
		l.next <- first
		c, err := d.Accept()
		if err != nil {
			t.Fatal(err)
		}
		shut := make(chan struct{})
		go func() { d.shut(); close(shut) }()
		synctest.Wait()
		select {
		case <-shut:
			t.Error("shut while somebody was in it")
		default:
		}
		l.next <- second
		if _, err := d.Accept(); !errors.Is(err, net.ErrClosed) {
			t.Errorf("somebody was let in: %v", err)
		}
		if _, err := late.Read(make([]byte, 1)); err == nil {
			t.Error("the one who came too late is still connected")
		}
		go func() { _, _ = far.Write([]byte("x")) }()
		if _, err := c.Read(make([]byte, 1)); err != nil {
			t.Error(err)
		}
		<-shut
		_ = c.Close()
	})
}
