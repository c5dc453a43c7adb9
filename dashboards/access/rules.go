package access

import (
	"net/http"
	"net/netip"
	"strings"

	"brinebell/detect/care"
)

// Rule says what is needed for a page of a home. The pattern is of
// http.ServeMux and has the home as {id}.
type Rule struct {
	Pattern string
	Action  care.Action
}

// DefaultRules are those of all pages: to look at a home is to see its life,
// and to send something there is to report. Pages that need another right have
// rules of their own.
func DefaultRules() []Rule {
	return []Rule{
		{"GET /homes/{id}", care.SeeLife},
		{"GET /homes/{id}/{rest...}", care.SeeLife},
		{"POST /homes/{id}", care.Report},
		{"POST /homes/{id}/{rest...}", care.Report},
	}
}

// DefaultStreams are the pages whose answers last.
func DefaultStreams() []string {
	return []string{"GET /changes", "GET /api/v1/alerts/live", "GET /api/v1/homes/{id}/sensor-check", "GET /api/v1/homes/{id}/export"}
}

// ruled is a rule as a handler that is only looked up and never called.
type ruled struct{ care.Action }

func (ruled) ServeHTTP(http.ResponseWriter, *http.Request) {}

func ruleMux(rules []Rule) *http.ServeMux {
	last := map[string]care.Action{} // a later rule stands for an earlier one
	for _, r := range rules {
		last[r.Pattern] = r.Action
	}
	mux := http.NewServeMux()
	for pattern, action := range last {
		mux.Handle(pattern, ruled{action})
	}
	return mux
}

func patternMux(patterns []string) *http.ServeMux {
	mux := http.NewServeMux()
	seen := map[string]bool{}
	for _, p := range patterns {
		if !seen[p] {
			mux.Handle(p, ruled{})
		}
		seen[p] = true
	}
	return mux
}

func matches(mux *http.ServeMux, r *http.Request) (ruled, bool) {
	h, _ := mux.Handler(r)
	rule, ok := h.(ruled)
	return rule, ok
}

// noHome is an id that no home can have, since ids begin with a letter or digit.
const noHome = "-"

// homeOf is the home of a page's path.
func homeOf(path string) (id string, ok bool) {
	rest, ok := strings.CutPrefix(path, "/homes/")
	if !ok {
		return "", false
	}
	id, _, _ = strings.Cut(rest, "/")
	return id, id != ""
}

// hideHome is the request for the same page of a home that does not exist.
func hideHome(r *http.Request, id string) *http.Request {
	hidden := r.Clone(r.Context())
	hidden.URL.Path = "/homes/" + noHome + strings.TrimPrefix(r.URL.Path, "/homes/"+id)
	hidden.URL.RawPath = ""
	hidden.RequestURI = hidden.URL.RequestURI()
	return hidden
}

// Address is where a request came from. What a trusted proxy says of that
// counts; what anybody else says does not.
func Address(r *http.Request, proxies []netip.Prefix) netip.Addr {
	peer, err := netip.ParseAddrPort(r.RemoteAddr)
	if err != nil {
		return netip.Addr{}
	}
	address := peer.Addr().Unmap()
	hops := strings.Split(strings.Join(r.Header.Values("X-Forwarded-For"), ","), ",")
	for i := len(hops) - 1; i >= 0 && trusted(address, proxies); i-- {
		hop, err := netip.ParseAddr(strings.TrimSpace(hops[i]))
		if err != nil {
			break
		}
		address = hop.Unmap()
	}
	return address
}

func trusted(a netip.Addr, proxies []netip.Prefix) bool {
	for _, p := range proxies {
		if p.Contains(a) {
			return true
		}
	}
	return false
}
