package web

import (
	"cmp"
	"errors"
	"log/slog"
	"time"

	"brinebell/detect"
	"brinebell/detect/cause"
)

// Options are the settings of a Server.
type Options struct {
	// Source is where the pages take what they show. Required.
	Source Source
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
	o.MinInterval = cmp.Or(o.MinInterval, DefaultMinInterval)
	o.MaxStreams = cmp.Or(o.MaxStreams, DefaultMaxStreams)
	return nil
}
