package web

import (
	"io"
	"net/http"
	"time"
)

// The bounds of a live stream. A reader that takes nothing for writeBound is
// dropped, so that a sleeping phone holds no connection; its page asks again
// when it wakes. The beat keeps proxies from closing a quiet stream.
const (
	writeBound = 10 * time.Second
	beat       = 20 * time.Second
)

// changes tells a page, by server-sent events, that something changed: the page
// then asks for itself anew. Hints that come faster than MinInterval are joined,
// and a slow reader misses only hints, never a state.
func (s *Server) changes(w http.ResponseWriter, r *http.Request) {
	select {
	case s.streams <- struct{}{}:
		defer func() { <-s.streams }()
	default:
		w.Header().Set("Retry-After", "60")
		http.Error(w, "Too many live pages.", http.StatusServiceUnavailable)
		return
	}
	hints := s.Source.Changes(r.Context())
	if hints == nil { // tells the browser not to ask again
		w.WriteHeader(http.StatusNoContent)
		return
	}
	w.Header().Set("Content-Type", "text/event-stream")
	w.Header().Set("Cache-Control", "no-store")
	s.stream(w, r, hints)
}

func (s *Server) stream(w http.ResponseWriter, r *http.Request, hints <-chan struct{}) {
	control := http.NewResponseController(w)
	say := func(text string) bool {
		_ = control.SetWriteDeadline(time.Now().Add(writeBound)) // not every writer has deadlines
		_, err := io.WriteString(w, text)
		return err == nil && control.Flush() == nil
	}
	if !say("retry: 3000\n\n") {
		return
	}
	quiet := time.NewTimer(beat)
	defer quiet.Stop()
	for {
		text := ": still here\n\n"
		select {
		case <-r.Context().Done():
			return
		case <-s.done:
			return
		case <-quiet.C:
		case _, ok := <-hints:
			if !ok {
				return
			}
			text = "event: change\ndata: {}\n\n"
		}
		if !say(text) || !s.rest(r) {
			return
		}
		quiet.Reset(beat)
	}
}

// rest waits out MinInterval; false when the stream must end.
func (s *Server) rest(r *http.Request) bool {
	pause := time.NewTimer(s.MinInterval)
	defer pause.Stop()
	select {
	case <-pause.C:
		return true
	case <-r.Context().Done():
	case <-s.done:
	}
	return false
}
