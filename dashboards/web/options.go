package web

import (
	"cmp"
	"context"
	"errors"
	"log/slog"
	"time"

	"brinebell/detect"
	"brinebell/detect/care"
	"brinebell/detect/cause"
)

// Options are the settings of a Server. What is left nil is left out of the
// pages, or is done without, as each says.
type Options struct {
	// Source is where the pages take what they show. Required.
	Source Source
	// Viewer tells who asks. Nil: there are no accounts and everybody sees all.
	Viewer func(context.Context) (care.Person, bool)
	// People knows firms, names and wishes.
	People People
	// Cases keeps cases and reports. Nil: an alert is shown without its case.
	Cases Cases
	// Told takes absences and fillings of salt.
	Told Told
	// Searches keeps searches by name.
	Searches Searches
	// Refused lists what came in and could not be used, the newest first.
	Refused func() []Refused
	// Replayer runs recordings through the detectors, for developers.
	Replayer Replayer
	// SetUp says that the pages that set homes and people up are served beside
	// these, at /set-up; whoever may use them is led there.
	SetUp bool
	// Clock is the present of the homes, which may be simulated. Nil: not known,
	// and no home is said to be silent.
	Clock func() time.Time
	// Logger takes what went wrong behind a page. Default: discards.
	Logger *slog.Logger
	// Title is what the homes are called together, as in "Saltmarsh". Default:
	// "Homes".
	Title string
	// CauseText is what people are told about a cause. Default: cause.Lookup.
	CauseText func(detect.Cause) cause.Text
	// Days is how many local days the pictures of a home show, today included.
	// Default: 7.
	Days int
	// SilentAfter is how long nothing may arrive from a home before its page says
	// so. Default: 3 h.
	SilentAfter time.Duration
	// MinInterval is the least time between two hints of change to one page.
	// Default: 1 s.
	MinInterval time.Duration
	// MaxStreams is how many pages may be live at once; one more is told to do
	// without. Default: 256.
	MaxStreams int
}

// The defaults of Options.
const (
	DefaultTitle       = "Homes"
	DefaultDays        = 7
	DefaultMinInterval = time.Second
	DefaultMaxStreams  = 256
	// DefaultSilentAfter is longer than a sensor that saves its battery usually
	// waits between two reports, and short enough to be told the same day.
	DefaultSilentAfter = 3 * time.Hour
)

// ErrNoSource says that Options.Source was not set.
var ErrNoSource = errors.New("web: no source of homes")

func (o *Options) complete() error {
	if o.Source == nil {
		return ErrNoSource
	}
	if o.Logger == nil {
		o.Logger = slog.New(slog.DiscardHandler)
	}
	if o.CauseText == nil {
		o.CauseText = cause.Lookup
	}
	o.Title = cmp.Or(o.Title, DefaultTitle)
	o.Days = cmp.Or(o.Days, DefaultDays)
	o.SilentAfter = cmp.Or(o.SilentAfter, DefaultSilentAfter)
	o.MinInterval = cmp.Or(o.MinInterval, DefaultMinInterval)
	o.MaxStreams = cmp.Or(o.MaxStreams, DefaultMaxStreams)
	return nil
}

// present is the present of the homes; zero when it is not known.
func (o *Options) present() time.Time {
	if o.Clock == nil {
		return time.Time{}
	}
	return o.Clock()
}
