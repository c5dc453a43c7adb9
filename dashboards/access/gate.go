package access

import (
	"context"
	"fmt"
	"net/http"
	"time"

	"github.com/alexedwards/scs/v2"

	"brinebell/detect/care"
)

// Gate keeps the door.
type Gate struct {
	Options
	sessions  *scs.SessionManager
	throttle  *Throttle
	pages     pages
	own       http.Handler // the gate's own pages
	rules     *http.ServeMux
	streams   *http.ServeMux
	forgotten chan request // passwords to see to
}

// request is a forgotten password.
type request struct{ email, address string }

// maxForgotten may wait; more are dropped, and their owners ask again.
const maxForgotten = 64

// New makes a gate. It starts nothing; forgotten passwords are seen to while
// Run runs.
func New(o Options) (*Gate, error) {
	if err := o.complete(); err != nil {
		return nil, err
	}
	p, err := loadPages()
	if err != nil {
		return nil, fmt.Errorf("access: %w", err)
	}
	g := &Gate{Options: o, pages: p, throttle: NewThrottle(o.Now), forgotten: make(chan request, maxForgotten)}
	g.sessions = newSessions(o)
	g.own = g.routes()
	g.rules = ruleMux(append(DefaultRules(), o.Rules...))
	g.streams = patternMux(append(DefaultStreams(), o.Streams...))
	return g, nil
}

// cookieName has the prefix by which a browser takes the cookie from this host
// over TLS only, where there is TLS (RFC 6265bis, section 4.1.3.2).
func cookieName(secure bool) string {
	if secure {
		return "__Host-brinebell"
	}
	return "brinebell"
}

// newSessions does without the library's New, which starts a goroutine that
// nobody could end.
func newSessions(o Options) *scs.SessionManager {
	m := &scs.SessionManager{Store: o.Sessions, Lifetime: sessionTime, Codec: scs.GobCodec{}, Cookie: scs.SessionCookie{
		Name: cookieName(o.secure()), Path: "/", HttpOnly: true, Secure: o.secure(), Persist: true,
		SameSite: http.SameSiteLaxMode, // a link in a mail must find one signed in
	}}
	m.ErrorFunc = func(w http.ResponseWriter, r *http.Request, err error) {
		o.Logger.Error("sessions are not to be had", "path", r.URL.Path, "error", err)
		http.Error(w, "Just now nobody can sign in. Try again in a minute.", http.StatusInternalServerError)
	}
	return m
}

// The values of a session.
const personKey, epochKey = "person", "epoch"

// signIn makes the request's session one of that person. The token is a new one:
// whoever knew the old one has nothing.
func (g *Gate) signIn(ctx context.Context, p care.Person, epoch int64) error {
	if err := g.sessions.RenewToken(ctx); err != nil {
		return err
	}
	g.sessions.Put(ctx, personKey, p.ID)
	g.sessions.Put(ctx, epochKey, epoch)
	return nil
}

// Run sees to forgotten passwords until ctx ends. They are not seen to while
// the request waits, so that its time does not tell whether there is such an
// account.
func (g *Gate) Run(ctx context.Context) error {
	for {
		select {
		case r := <-g.forgotten:
			g.remind(ctx, r)
		case <-ctx.Done():
			return nil
		}
	}
}

// remindTime bounds one of them.
const remindTime = 20 * time.Second

func (g *Gate) remind(ctx context.Context, r request) {
	ctx, cancel := context.WithTimeout(ctx, remindTime)
	defer cancel()
	p, err := g.Accounts.ByEmail(ctx, r.email)
	if err != nil || p.Disabled || g.Mailer == nil {
		return
	}
	secret, err := g.Accounts.Invite(ctx, p.ID, resetTime)
	if err == nil {
		err = g.Mailer.SendLink(ctx, p, g.LinkURL(secret), g.Now().Add(resetTime), false)
	}
	if err != nil {
		g.Logger.Error("the link for a forgotten password was not sent", "person", p.ID, "error", err)
		return
	}
	g.note(ctx, p, r.address, "link sent")
}

// note adds to the audit trail what a person did about their account.
func (g *Gate) note(ctx context.Context, p care.Person, address, act string) {
	if err := g.Accounts.Note(ctx, care.Deed{Person: p.ID, Firm: p.Firm, Act: act, Subject: p.ID, Address: address}); err != nil {
		g.Logger.Error("the audit trail was not written", "act", act, "error", err)
	}
}
