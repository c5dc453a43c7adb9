package web

import (
	"context"
	"net/http"
	"net/http/httptest"
	"strings"
	"sync"
	"testing"
	"testing/synctest"
	"time"
)

// listener is a response that is written to while others read it.
type listener struct {
	header http.Header
	mu     sync.Mutex // guards body and status
	body   strings.Builder
	status int
}

func (l *listener) Header() http.Header { return l.header }
func (l *listener) Flush()              {}

func (l *listener) WriteHeader(status int) {
	l.mu.Lock()
	defer l.mu.Unlock()
	l.status = status
}

func (l *listener) Write(p []byte) (int, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.body.Write(p)
}

func (l *listener) changes() int {
	l.mu.Lock()
	defer l.mu.Unlock()
	return strings.Count(l.body.String(), "event: change\n")
}

// listen opens a stream; done is closed when it has ended.
func listen(ctx context.Context, s *Server) (l *listener, done chan struct{}) {
	l, done = &listener{header: http.Header{}}, make(chan struct{})
	go func() {
		defer close(done)
		s.Handler().ServeHTTP(l, httptest.NewRequestWithContext(ctx, http.MethodGet, "/changes", nil))
	}()
	synctest.Wait()
	return l, done
}

func TestHintsAreJoined(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		town := &fakeTown{}
		s := newServer(t, town)
		ctx, stop := context.WithCancel(t.Context())
		l, done := listen(ctx, s)
		for range 100 { // ten seconds of a hint every 100 ms
			town.hint()
			time.Sleep(100 * time.Millisecond)
		}
		if got := l.changes(); got < 9 || got > 11 {
			t.Errorf("%d changes in ten seconds, want about one a second", got)
		}
		stop()
		<-done
	})
}

func TestAQuietStreamStaysAlive(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		ctx, stop := context.WithCancel(t.Context())
		l, done := listen(ctx, newServer(t, &fakeTown{}))
		time.Sleep(5 * time.Minute)
		stop()
		<-done
		if beats := strings.Count(l.body.String(), ": still here"); beats < 10 || l.changes() != 0 {
			t.Errorf("%d beats and %d changes in five quiet minutes", beats, l.changes())
		}
	})
}

func TestCloseEndsTheStreams(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s := newServer(t, &fakeTown{})
		_, done := listen(t.Context(), s)
		s.Close()
		s.Close()
		<-done
	})
}

func TestStreamsAreBounded(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s, err := New(Options{Source: &fakeTown{}, MaxStreams: 2})
		if err != nil {
			t.Fatal(err)
		}
		_, first := listen(t.Context(), s)
		_, second := listen(t.Context(), s)
		third, refused := listen(t.Context(), s)
		<-refused
		if third.status != http.StatusServiceUnavailable {
			t.Errorf("third of two streams: %d", third.status)
		}
		s.Close()
		<-first
		<-second
	})
}

// silentTown cannot tell of changes.
type silentTown struct{ fakeTown }

func (*silentTown) Changes(context.Context) <-chan struct{} { return nil }

func TestNoHintsNoStream(t *testing.T) {
	if w := get(t, newServer(t, &silentTown{}), "/changes"); w.Code != http.StatusNoContent {
		t.Errorf("status %d: the browser would ask for ever", w.Code)
	}
}
