package spool

import (
	"context"
	"math/rand/v2"
	"net"
	"net/url"
	"slices"
	"sync"
	"testing"
	"time"

	"github.com/prometheus/client_golang/prometheus/testutil"

	"brinebell/collector/influxtest"
	"brinebell/collector/series"
	"brinebell/collector/series/influx"
	"brinebell/detect"
)

// proxy stands between the spool and the server, and can be told to cut
// connections, refuse new ones, or hold everything up.
type proxy struct {
	listener net.Listener
	to       string

	mu     sync.Mutex // guards all below
	broken bool       // new connections are closed at once
	budget int64      // bytes that still go through towards the server; negative for no limit
	open   map[net.Conn]bool
}

func newProxy(t *testing.T, server string) *proxy {
	u, err := url.Parse(server)
	if err != nil {
		t.Fatal(err)
	}
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	p := &proxy{listener: l, to: u.Host, budget: -1, open: map[net.Conn]bool{}}
	var done sync.WaitGroup
	done.Go(func() { p.accept(&done) })
	t.Cleanup(func() {
		_ = l.Close()
		p.cut()
		done.Wait()
	})
	return p
}

func (p *proxy) accept(done *sync.WaitGroup) {
	for {
		in, err := p.listener.Accept()
		if err != nil {
			return
		}
		out, err := net.Dial("tcp", p.to)
		p.mu.Lock()
		if err != nil || p.broken {
			p.mu.Unlock()
			_ = in.Close()
			if out != nil {
				_ = out.Close()
			}
			continue
		}
		p.open[in], p.open[out] = true, true
		p.mu.Unlock()
		done.Go(func() { p.pass(out, in, true) })
		done.Go(func() { p.pass(in, out, false) })
	}
}

// pass copies until either side ends or, towards the server, the budget is used
// up in the middle of a request.
func (p *proxy) pass(to, from net.Conn, counted bool) {
	defer func() { _, _ = to.Close(), from.Close() }()
	buf := make([]byte, 4096)
	for {
		n, err := from.Read(buf)
		if err != nil {
			return
		}
		if counted && !p.spend(int64(n)) {
			_, _ = to.Write(buf[:n/2])
			return
		}
		if _, err := to.Write(buf[:n]); err != nil {
			return
		}
	}
}

func (p *proxy) spend(n int64) bool {
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.budget < 0 {
		return true
	}
	p.budget = max(0, p.budget-n)
	return p.budget > 0
}

// set breaks or mends the way, and lets so many more bytes through before it
// breaks in the middle of a request.
func (p *proxy) set(broken bool, budget int64) {
	p.mu.Lock()
	defer p.mu.Unlock()
	p.broken, p.budget = broken, budget
}

func (p *proxy) cut() {
	p.mu.Lock()
	defer p.mu.Unlock()
	for c := range p.open {
		_ = c.Close()
	}
	clear(p.open)
}

// TestRealOutages writes through a spool to a real server while the way to it
// breaks in the middle of requests, is shut for a while, and the server is
// killed and started again: in the end every reading is with the server, once.
func TestRealOutages(t *testing.T) {
	t.Parallel() // it mostly waits
	server := influxtest.Start(t)
	way := newProxy(t, server.URL)
	store, err := influx.Open(influx.Options{URL: "http://" + way.listener.Addr().String(), Bucket: server.NewBucket(t), Timeout: 2 * time.Second})
	if err != nil {
		t.Fatal(err)
	}
	s := run(open(t, Options{Dir: t.TempDir(), Store: store, Batch: 500}))
	random := rand.New(rand.NewPCG(8, 9))
	var want []detect.Reading
	for i := range 120 {
		batch := minutes("a", i*50, 50)
		want = append(want, batch...)
		add(t, s, batch)
		switch {
		case i%10 == 3:
			way.set(false, int64(random.IntN(6000))) // breaks in a request to come
		case i%10 == 7:
			way.set(true, -1)
			way.cut()
		case i%10 == 9:
			way.set(false, -1)
		case i == 60:
			server.Kill()
		case i == 80:
			server.Run(t)
		}
	}
	way.set(false, -1)
	for s.State().Readings > 0 {
		time.Sleep(10 * time.Millisecond) // another process: there is nothing else to wait on
	}
	got, err := series.ReadHome(context.Background(), store, "a", time.Time{}, noon.AddDate(1, 0, 0))
	if err != nil || !slices.Equal(got, want) {
		t.Errorf("%d readings are with the server, want %d: %v", len(got), len(want), err)
	}
	if n := testutil.ToFloat64(s.metrics.failures.WithLabelValues("store")); n < 3 {
		t.Errorf("only %v writes failed: the way was not broken enough", n)
	}
	if err := s.Close(); err != nil {
		t.Error(err)
	}
}
