package collector

import (
	"context"
	"time"

	"brinebell/collector/casebook"
	"brinebell/collector/state"
	"brinebell/collector/telling"
	"brinebell/detect"
	"brinebell/detect/care"
)

// Accounts knows people, and which home belongs to which firm.
type Accounts interface {
	telling.People
	// Place is where a home belongs.
	Place(ctx context.Context, home string) (care.Place, error)
}

// CareOptions say how cases are kept and people told.
type CareOptions struct {
	// Accounts are the people, who are kept in the collector's own state store.
	// Nil when there are none: nobody is told, and homes belong to no firm.
	Accounts func(*state.DB) Accounts
	Mail     telling.MailOptions
	BaseURL  string          // of the pages, for links
	Private  bool            // webhooks and gateways may lead into the own network
	Painter  telling.Painter // nil for mails without a picture
	// FirmOf is the firm of a home where there are no Accounts; nil for none.
	FirmOf func(home string) string
	// WatchEvery is how often watches after repairs are judged; a default when 0.
	WatchEvery time.Duration
}

// makeCare makes what follows from alerts: cases, and telling people of them.
func (c *Collector) makeCare(context.Context) (err error) {
	o := c.opts.Care
	var people telling.People
	firmOf := o.FirmOf
	if o.Accounts != nil {
		accounts := o.Accounts(c.state)
		people = accounts
		firmOf = func(home string) string {
			// A home that is not there, or cannot be asked for now, is nobody's.
			place, _ := accounts.Place(context.Background(), home)
			return place.Firm
		}
	}
	c.book, err = casebook.New(casebook.Options{State: c.state, Home: c.home, FirmOf: firmOf, Now: c.judgedUntil, Clock: c.opts.Clock,
		WatchEvery: o.WatchEvery, Logger: c.opts.Logger.With("part", "cases"), Registerer: c.opts.Registerer})
	if err != nil {
		return err
	}
	broker, _ := c.broker.(telling.Publisher)
	c.teller, err = telling.New(telling.Options{State: c.state, Cases: c.book, Home: c.home, People: people, Mail: o.Mail, BaseURL: o.BaseURL,
		Private: o.Private, Publisher: broker, Painter: o.Painter, Clock: c.opts.Clock,
		Logger: c.opts.Logger.With("part", "telling"), Registerer: c.opts.Registerer})
	if err != nil {
		return err
	}
	c.book.Changed(func(string) { c.teller.Wake() })
	return nil
}

// State is the state store, for what else is kept there.
func (c *Collector) State() *state.DB { return c.state }

// Cases is the casebook.
func (c *Collector) Cases() *casebook.Book { return c.book }

// Teller tells people.
func (c *Collector) Teller() *telling.Teller { return c.teller }

// Home is the profile of a home; ok is false when there is none of that id.
func (c *Collector) Home(id string) (h detect.Home, ok bool) { return c.homes.get(id) }

// home is the profile of a home.
func (c *Collector) home(id string) (detect.Home, bool) { return c.homes.get(id) }

// judgedUntil is the time of measurement up to which a home has been judged;
// zero when it has not.
func (c *Collector) judgedUntil(home string) time.Time {
	b, _ := c.judge.Books(home)
	return b.At
}

// changed passes on that alerts have changed.
func (c *Collector) changed(alerts []detect.Alert) {
	if c.book != nil { // not yet while it is being made
		c.book.Wake()
	}
	if c.opts.Changed != nil {
		c.opts.Changed(alerts)
	}
}
