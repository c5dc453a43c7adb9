package main

import (
	"context"
	"log/slog"
	"slices"
)

// libraryParts are the parts of the collector whose everyday news comes from
// libraries: how they open files and which hooks they add. It is of use to whoever
// looks for a fault in them, and hides what a person should read.
var libraryParts = []string{"series", "embedded broker"}

// calm lets news of libraries through at the level debug only; their warnings and
// errors always, but for the broker's about a client that it refused: the intake
// says that in words, once, and without the whole packet.
type calm struct {
	slog.Handler
	library bool
}

func calmed(l *slog.Logger) *slog.Logger { return slog.New(calm{Handler: l.Handler()}) }

// Enabled is asked before each record is made.
func (c calm) Enabled(ctx context.Context, level slog.Level) bool {
	if c.library && level < slog.LevelWarn {
		level = slog.LevelDebug
	}
	return c.Handler.Enabled(ctx, level)
}

// Handle passes a record on.
func (c calm) Handle(ctx context.Context, r slog.Record) error {
	if c.library && r.Level <= slog.LevelWarn && !c.Handler.Enabled(ctx, slog.LevelDebug) && aboutPacket(r) {
		return nil
	}
	return c.Handler.Handle(ctx, r)
}

// aboutPacket says whether a record dumps a packet, or has nothing but an error in
// the broker's own words.
func aboutPacket(r slog.Record) bool {
	about := r.Message == ""
	r.Attrs(func(a slog.Attr) bool {
		about = about || a.Key == "pk"
		return !about
	})
	return about
}

// WithAttrs notices whose logger it becomes.
func (c calm) WithAttrs(attrs []slog.Attr) slog.Handler {
	for _, a := range attrs {
		c.library = c.library || a.Key == "part" && slices.Contains(libraryParts, a.Value.String())
	}
	c.Handler = c.Handler.WithAttrs(attrs)
	return c
}

// WithGroup keeps whose logger it is.
func (c calm) WithGroup(name string) slog.Handler {
	c.Handler = c.Handler.WithGroup(name)
	return c
}
