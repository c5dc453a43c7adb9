package access

import (
	"context"
	"encoding/json"
	"errors"
	"net/http"
	"net/url"
	"path"
	"strings"
	"time"

	"brinebell/detect/care"
)

const (
	// maxBody is the largest that a form or a call may send, in bytes.
	maxBody = 1 << 20
	// maxFile is the largest file that may be sent, where one is taken: a fleet's
	// table, or a recording to replay.
	maxFile = 65 << 20
	// bodyTime is how long a body may take to arrive, fileTime a file, and
	// answerTime an answer to leave.
	bodyTime, fileTime, answerTime = 30 * time.Second, 5 * time.Minute, time.Minute
	apiPrefix                      = "/api/v1/"
)

// Protect lets requests through to next that may go there; see the package.
func (g *Gate) Protect(next http.Handler) http.Handler {
	inner := g.sessions.LoadAndSave(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) { g.enter(w, r, next) }))
	return bounded(g.streams, sameOrigin(inner))
}

// Open is Protect for where nobody has to sign in.
func Open(next http.Handler) http.Handler {
	return bounded(patternMux(DefaultStreams()), sameOrigin(next))
}

// sameOrigin keeps pages of other origins from changing anything here.
func sameOrigin(next http.Handler) http.Handler {
	p := http.NewCrossOriginProtection()
	p.SetDenyHandler(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		refuse(w, r, http.StatusForbidden, "This came from a page of another site and was not done.")
	}))
	return p.Handler(next)
}

// bounded bounds what a request may take.
func bounded(streams *http.ServeMux, next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		most, within := int64(maxBody), bodyTime
		if strings.HasSuffix(r.URL.Path, "/import") || r.URL.Path == "/set-up/fleet" || r.URL.Path == "/replay" {
			most, within = maxFile, fileTime
		}
		if r.ContentLength > most {
			refuse(w, r, http.StatusRequestEntityTooLarge, "This is more than can be taken at once.")
			return
		}
		r.Body = http.MaxBytesReader(w, r.Body, most)
		control := http.NewResponseController(w)
		// A writer that knows no deadlines, as a test's, has none to keep.
		if r.ContentLength != 0 {
			_ = control.SetReadDeadline(time.Now().Add(within))
		}
		if _, lasts := matches(streams, r); !lasts {
			_ = control.SetWriteDeadline(time.Now().Add(within + answerTime))
		}
		next.ServeHTTP(w, r)
	})
}

// public says whether a path is for everybody.
func public(p string) bool {
	return p == "/healthz" || strings.HasPrefix(p, "/static/")
}

// enter finds out who asks and whether they may.
func (g *Gate) enter(w http.ResponseWriter, r *http.Request, next http.Handler) {
	if public(r.URL.Path) {
		next.ServeHTTP(w, r)
		return
	}
	ctx, err := g.identify(r)
	if err != nil && !errors.Is(err, care.ErrWrong) {
		g.Logger.Error("who asks could not be looked up", "error", err)
		refuse(w, r, http.StatusInternalServerError, "Just now nobody can be let in. Try again in a minute.")
		return
	}
	r = r.WithContext(ctx)
	if ours(r.URL.Path) {
		g.own.ServeHTTP(w, r)
		return
	}
	if r.URL.Path == metricsPath {
		g.enterMetrics(w, r, err == nil, next)
		return
	}
	if err != nil {
		g.turnAway(w, r)
		return
	}
	if ByToken(r.Context()) {
		if !strings.HasPrefix(r.URL.Path, apiPrefix) {
			refuse(w, r, http.StatusForbidden, "Pages are for people who sign in. Programs use /api/v1.")
			return
		}
	}
	g.enterHome(w, r, next)
}

const metricsPath = "/metrics"

// enterMetrics lets in who asks from this machine, and programs with a token of
// an operator. A proxy on this machine asks for others.
func (g *Gate) enterMetrics(w http.ResponseWriter, r *http.Request, known bool, next http.Handler) {
	local := Address(r, nil).IsLoopback() && r.Header.Get("X-Forwarded-For") == "" && r.Header.Get("Forwarded") == ""
	switch {
	case local || known && May(r.Context(), care.SeeService, care.Place{}):
		next.ServeHTTP(w, r)
	case known:
		refuse(w, r, http.StatusForbidden, "Metrics are for operators.")
	default:
		g.turnAway(w, r)
	}
}

// identify puts who asks into the request's context.
func (g *Gate) identify(r *http.Request) (context.Context, error) {
	ctx := r.Context()
	if header := r.Header.Get("Authorization"); header != "" {
		secret, ok := strings.CutPrefix(header, "Bearer ")
		if !ok {
			return ctx, care.ErrWrong
		}
		p, t, err := g.Accounts.ByToken(ctx, strings.TrimSpace(secret))
		if err != nil {
			return ctx, err
		}
		return WithToken(ctx, p, t.Scope), nil
	}
	id := g.sessions.GetString(ctx, personKey)
	if id == "" {
		return ctx, care.ErrWrong
	}
	p, err := g.Accounts.Current(ctx, id, g.sessions.GetInt64(ctx, epochKey))
	if err != nil {
		return ctx, err
	}
	return With(ctx, p), nil
}

// turnAway asks a person to sign in, and a program for a token.
func (g *Gate) turnAway(w http.ResponseWriter, r *http.Request) {
	if isCall(r) {
		w.Header().Set("WWW-Authenticate", `Bearer realm="brinebell"`)
		refuse(w, r, http.StatusUnauthorized, "Send a token that is good, as in \"Authorization: Bearer ...\".")
		return
	}
	to := "/sign-in"
	if r.Method == http.MethodGet && r.URL.Path != "/" {
		to += "?to=" + url.QueryEscape(r.URL.RequestURI())
	}
	http.Redirect(w, r, to, http.StatusSeeOther)
}

// isCall says whether a program asks.
func isCall(r *http.Request) bool {
	return strings.HasPrefix(r.URL.Path, apiPrefix) || r.Header.Get("Authorization") != "" || r.URL.Path == metricsPath || r.URL.Path == "/changes"
}

// enterHome goes on to the pages, of a home only for those who may.
func (g *Gate) enterHome(w http.ResponseWriter, r *http.Request, next http.Handler) {
	// What an unclean path or a slash in disguise would mean to the pages is not
	// what the rules see.
	if clean := path.Clean(r.URL.Path); clean != r.URL.Path && clean+"/" != r.URL.Path || strings.Contains(strings.ToLower(r.URL.EscapedPath()), "%2f") {
		refuse(w, r, http.StatusNotFound, "There is no page at this address.")
		return
	}
	id, ok := homeOf(r.URL.Path)
	if !ok {
		next.ServeHTTP(w, r)
		return
	}
	at, err := g.Accounts.Place(r.Context(), id)
	if err != nil && !errors.Is(err, care.ErrNone) {
		g.Logger.Error("a home could not be looked up", "error", err)
		refuse(w, r, http.StatusInternalServerError, "Just now this cannot be shown. Try again in a minute.")
		return
	}
	if err != nil || !Knows(r.Context(), at) {
		next.ServeHTTP(w, hideHome(r, id))
		return
	}
	if rule, ok := matches(g.rules, r); !ok || !May(r.Context(), rule.Action, at) {
		refuse(w, r, http.StatusForbidden, "Your account does not allow this here. Ask the manager of your firm.")
		return
	}
	next.ServeHTTP(w, r)
}

// refuse answers that something is not done: a program as RFC 9457 says, a
// person in a sentence.
func refuse(w http.ResponseWriter, r *http.Request, status int, sentence string) {
	h := w.Header()
	h.Set("Cache-Control", "no-store")
	h.Set("X-Content-Type-Options", "nosniff")
	if !isCall(r) {
		http.Error(w, sentence, status)
		return
	}
	h.Set("Content-Type", "application/problem+json")
	w.WriteHeader(status)
	// The client may be gone; there is nobody else to tell.
	_ = json.NewEncoder(w).Encode(map[string]any{"title": http.StatusText(status), "status": status, "detail": sentence})
}
