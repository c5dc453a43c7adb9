package web

import (
	"context"
	"time"

	"brinebell/detect"
	"brinebell/detect/books"
	"brinebell/detect/regeneration"
)

// Point is the readings of one signal over one span of time, in the signal's
// canonical unit. Time is the start of the span. For a running total, Min is the
// total at the start of the span and Max at its end, as they are for any meter
// that only counts up.
type Point struct {
	Time           time.Time
	Min, Mean, Max float64
}

// Regeneration is a recognised regeneration with what the books say of it.
type Regeneration struct {
	regeneration.Record
	Entry *books.Entry // nil when it was not booked
}

// Source is where the pages take what they show. Its methods may be called from
// several goroutines at once.
type Source interface {
	// Homes lists the profiles of all homes.
	Homes() []detect.Home
	// Alerts lists the alerts of a home, open and cleared; of all homes when
	// home is empty.
	Alerts(ctx context.Context, home string) ([]detect.Alert, error)
	// Points lists the readings from from until before to, oldest first, put
	// together into at most max equal spans; spans without a reading are left
	// out. A signal that the home does not have gives none.
	Points(ctx context.Context, home string, s detect.Signal, from, to time.Time, max int) ([]Point, error)
	// Regenerations lists those that began from from until before to, oldest
	// first.
	Regenerations(ctx context.Context, home string, from, to time.Time) ([]Regeneration, error)
	// Books are a home's books; ok is false when there are none just now.
	Books(ctx context.Context, home string) (b books.Books, ok bool)
	// Now is the time of the home's newest reading; zero when there is none.
	Now(home string) time.Time
	// Changes gives a value after something that a page shows has changed,
	// several changes perhaps as one, until ctx ends. A nil channel means that
	// the source cannot tell; pages are then fresh when loaded.
	Changes(ctx context.Context) <-chan struct{}
}
