package api

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"maps"
	"net/http"
	"strings"

	"brinebell/dashboards/access"
)

// lasting says whether an answer is too long to be held, and so has no tag.
func lasting(path string) bool {
	return strings.HasSuffix(path, "/live") || strings.HasSuffix(path, "/sensor-check") || strings.HasSuffix(path, "/export")
}

// tagged gives answers to GET an ETag, keeps to If-None-Match and If-Match, and
// notes where requests come from.
func (a *API) tagged(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		r = r.WithContext(context.WithValue(r.Context(), addressKey{}, access.Address(r, a.Proxies).String()))
		h := w.Header()
		h.Set("X-Content-Type-Options", "nosniff")
		h.Set("Cache-Control", "private, no-cache")
		h.Set("Vary", "Authorization, Cookie")
		switch {
		case r.Method == http.MethodGet && !lasting(r.URL.Path):
			answer := held(next, r)
			answer.send(w, r.Header.Get("If-None-Match"))
		case r.Header.Get("If-Match") != "":
			a.ifMatch(next, w, r)
		default:
			next.ServeHTTP(w, r)
		}
	})
}

// ifMatch does what is asked only if the resource is still as it was seen.
func (a *API) ifMatch(next http.Handler, w http.ResponseWriter, r *http.Request) {
	a.writing.Lock()
	defer a.writing.Unlock()
	look := r.Clone(r.Context())
	look.Method, look.Body, look.ContentLength = http.MethodGet, http.NoBody, 0
	now := held(next, look)
	if now.status == http.StatusNotFound || now.status == http.StatusForbidden {
		now.send(w, "") // as it would be without the condition
		return
	}
	if now.status != http.StatusOK || !matchesTag(r.Header.Get("If-Match"), now.tag()) {
		problem(w, http.StatusPreconditionFailed, "It has changed since it was read. Read it again.")
		return
	}
	next.ServeHTTP(w, r)
}

// answer is one that is held back.
type answer struct {
	header http.Header
	status int
	body   bytes.Buffer
}

func held(next http.Handler, r *http.Request) *answer {
	a := &answer{header: http.Header{}, status: http.StatusOK}
	next.ServeHTTP(a, r)
	return a
}

// Header is of the answer held back.
func (a *answer) Header() http.Header { return a.header }

// WriteHeader keeps the status.
func (a *answer) WriteHeader(status int) { a.status = status }

// Write keeps a piece of the body.
func (a *answer) Write(b []byte) (int, error) { return a.body.Write(b) }

func (a *answer) tag() string {
	sum := sha256.Sum256(a.body.Bytes())
	return `"` + hex.EncodeToString(sum[:12]) + `"`
}

func (a *answer) send(w http.ResponseWriter, known string) {
	maps.Copy(w.Header(), a.header)
	if a.status == http.StatusOK {
		w.Header().Set("ETag", a.tag())
		if known != "" && matchesTag(known, a.tag()) {
			w.Header().Del("Content-Type")
			w.WriteHeader(http.StatusNotModified)
			return
		}
	}
	w.WriteHeader(a.status)
	_, _ = w.Write(a.body.Bytes()) // the client went away: nothing left to do
}

// matchesTag says whether a condition names the tag (RFC 9110, section 13.1).
func matchesTag(condition, tag string) bool {
	for _, one := range strings.Split(condition, ",") {
		one = strings.TrimPrefix(strings.TrimSpace(one), "W/")
		if one == "*" || one == tag {
			return true
		}
	}
	return false
}
