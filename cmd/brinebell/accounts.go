package main

import (
	"context"
	"fmt"
	"io"
	"log/slog"
	"net/http"
	"net/netip"
	"strings"
	"sync"
	"time"

	"brinebell/collector/people"
	"brinebell/collector/telling"
	"brinebell/dashboards/access"
	"brinebell/dashboards/api"
	"brinebell/dashboards/setup"
	"brinebell/dashboards/web"
	"brinebell/detect"
	"brinebell/detect/care"
)

// accounts are the people of a service; nil where nobody signs in.
type accounts struct {
	people  *people.Store
	baseURL string // as people reach the pages
	proxies []netip.Prefix
}

// accounts are those of the configuration; nil when the pages are open.
func (c config) accounts() (*accounts, error) {
	if c.Accounts.Open {
		return nil, nil
	}
	proxies, err := c.Accounts.proxies()
	return &accounts{baseURL: c.Telling.Pages, proxies: proxies}, err
}

// warn says what goes over the wire in the clear.
func (c config) warn(log *slog.Logger) {
	if !c.Accounts.Open && !onThisMachine(c.Listen) && !strings.HasPrefix(c.Telling.Pages, "https://") {
		log.Warn("passwords of people go over the network in the clear: put a web server with TLS before the pages and its https address into telling.pages", "listen", c.Listen)
	}
	if c.Broker.Listen != "" && !onThisMachine(c.Broker.Listen) {
		log.Warn("passwords of devices that do not use TLS go over the network in the clear: use broker.tls where devices can", "listen", c.Broker.Listen)
	}
}

// greet says on the terminal how the first account is made, while there is none.
func (s *service) greet(ctx context.Context, out io.Writer, a *accounts) error {
	if a == nil {
		return nil
	}
	link, err := s.firstLink(ctx, a)
	if err != nil || link == "" {
		return err
	}
	_, err = fmt.Fprintf(out, "Nobody can sign in yet. Open this address once, within four days, to make the first account:\n\n  %s\n\n", link)
	return err
}

// gate makes the door, with mail if there is a server for it.
func (a *accounts) gate(s *service) (*access.Gate, error) {
	o := access.Options{Accounts: a.people, Sessions: a.people.Sessions(), Logger: s.logger, BaseURL: a.baseURL, Proxies: a.proxies, Rules: setup.Rules()}
	if s.collector.Teller().CanMail() {
		o.Mailer = linkMailer{s.collector.Teller()}
	}
	return access.New(o)
}

// openDoor puts accounts, the interface for programs and the door into place.
func (s *service) openDoor(o serviceOptions) (err error) {
	opts := api.Options{Homes: apiHomes{s.source, nil}, Cases: apiCases{s.collector.Cases()}, ActsAs: o.actsAs, Version: version, Logger: s.logger, Now: o.collector.Clock}
	if a := o.accounts; a != nil {
		a.people = people.New(people.Options{DB: s.collector.State()})
		if a.baseURL == "" {
			a.baseURL = "http://" + s.listener.Addr().String()
		}
		if s.gate, err = a.gate(s); err != nil {
			return err
		}
		opts.Homes, opts.People, opts.Proxies, opts.LinkURL = apiHomes{s.source, a.people}, a.people, a.proxies, s.gate.LinkURL
		if s.gate.Mailer != nil {
			opts.SendLink = s.gate.Mailer.SendLink
		}
	}
	if s.api, err = api.New(opts); err != nil {
		return err
	}
	s.control.offer(s.api.Handler())
	s.setup, err = setup.New(setup.Options{API: s.api.Handler(), Logger: s.logger, Accounts: o.accounts != nil})
	return err
}

// guarded is everything that is served behind the door.
func (s *service) guarded(mux http.Handler) http.Handler {
	if s.gate == nil {
		return access.Open(mux)
	}
	return s.gate.Protect(mux)
}

// runDoor sees to forgotten passwords until ctx ends.
func (s *service) runDoor(ctx context.Context) error {
	if s.gate == nil {
		<-ctx.Done()
		return nil
	}
	return s.gate.Run(ctx)
}

// firstLink is the address at which the first account is made; empty when there
// is one.
func (s *service) firstLink(ctx context.Context, a *accounts) (string, error) {
	secret, ok, err := a.people.FirstLink(ctx)
	if err != nil || !ok {
		return "", err
	}
	return s.gate.LinkURL(secret), nil
}

// offer lets commands of the same user work with the running service, as its
// operator.
func (c *control) offer(h http.Handler) {
	if c == nil {
		return
	}
	if mux, ok := c.server.Handler.(*http.ServeMux); ok {
		mux.Handle(api.Prefix+"/", http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
			h.ServeHTTP(w, r.WithContext(access.With(r.Context(), care.Person{Role: care.Operator, Name: "command line"})))
		}))
	}
}

// linkMailer sends links by which a password is set.
type linkMailer struct{ teller *telling.Teller }

var _ access.Mailer = linkMailer{}

func (m linkMailer) SendLink(ctx context.Context, p care.Person, link string, until time.Time, first bool) error {
	why := "Somebody, perhaps you, has asked for another password for your account at Brinebell."
	if first {
		why = "You have been given an account at Brinebell, which watches over water softeners."
	}
	where := time.UTC
	if z, err := time.LoadLocation(p.Timezone); err == nil && p.Timezone != "" {
		where = z
	}
	text := fmt.Sprintf("%s,\n\n%s\n\nOpen this address to set your password. It works once, until %s:\n\n%s\n\nIf you did not expect this, do nothing: without it nothing changes.\n",
		p.Name, why, until.In(where).Format("2 January 2006, 15:04 MST"), link)
	return m.teller.SendMail(ctx, p.Email, "Set your password at Brinebell", text)
}

// webPeople lets the pages know firms, names and wishes.
type webPeople struct {
	store *people.Store

	mu     sync.Mutex            // guards all below
	places map[string]care.Place // as they were at looked
	looked time.Time
}

var _ web.People = (*webPeople)(nil)

// placesFor is how long the places of all homes are taken as known: a page asks
// for each of thousands. The door looks at the store itself for each request.
const placesFor = 2 * time.Second

func (w *webPeople) Place(home string) (firm, area string) {
	w.mu.Lock()
	defer w.mu.Unlock()
	if time.Since(w.looked) > placesFor {
		all, err := w.store.Places(context.Background())
		if err != nil {
			return "", "" // nobody's: it is shown to none
		}
		w.places = make(map[string]care.Place, len(all))
		for _, p := range all {
			w.places[p.Home] = p
		}
		w.looked = time.Now()
	}
	at, known := w.places[home]
	if !known || at.Firm == "" { // perhaps it has just been added
		var err error
		if at, err = w.store.Place(context.Background(), home); err != nil {
			return "", ""
		}
		w.places[home] = at
	}
	return at.Firm, at.Area
}

func (w *webPeople) Name(ctx context.Context, id string) string {
	p, err := w.store.Person(ctx, id)
	if err != nil {
		return "" // somebody who is gone
	}
	return p.Name
}

func (w *webPeople) Wish(ctx context.Context, id, language string, units detect.Units) error {
	p, err := w.store.Person(ctx, id)
	if err != nil {
		return err
	}
	p.Language, p.Units = language, units
	return w.store.Change(ctx, p)
}
