package main

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"log/slog"
	"path/filepath"
	"slices"
	"time"

	judging "brinebell/collector/judge"
	"brinebell/collector/series"
	"brinebell/collector/series/influx"
	"brinebell/collector/state"
	"brinebell/detect"
	"brinebell/detect/engine"
)

// farFuture is after every reading.
var farFuture = time.Date(2200, 1, 1, 0, 0, 0, 0, time.UTC)

// storedAccount reads what "brinebell serve" with this configuration has stored,
// without disturbing it.
func storedAccount(ctx context.Context, config, id string) (*account, error) {
	conf, err := readConfig(config)
	if err != nil {
		return nil, inputError{err}
	}
	db, err := state.OpenToRead(filepath.Join(conf.Data, "state.db"))
	if errors.Is(err, fs.ErrNotExist) || errors.Is(err, state.ErrOlder) {
		return nil, inputError{fmt.Errorf("%w\nLet \"brinebell serve --config %s\" run first", err, config)}
	}
	if err != nil {
		return nil, err
	}
	home, err := storedHome(ctx, conf, db, id)
	if err != nil {
		return nil, errors.Join(err, db.Close())
	}
	a, err := readAccount(ctx, db, home, storedReadings(config, id))
	return a, errors.Join(err, db.Close())
}

// storedHome is a home of the homes file or, before it, one that was put in or
// changed while the collector ran.
func storedHome(ctx context.Context, conf config, db *state.DB, id string) (detect.Home, error) {
	homes, _, err := conf.readHomes(slog.New(slog.DiscardHandler))
	if err != nil {
		return detect.Home{}, err
	}
	kept, err := db.Homes(ctx)
	if err != nil {
		return detect.Home{}, err
	}
	all := make([]detect.Home, 0, len(kept)+len(homes))
	for _, k := range kept {
		h, err := detect.ReadHome("kept profile of "+k.ID, k.Profile)
		if err != nil && k.ID == id {
			return h, inputError{err}
		}
		if err == nil {
			all = append(all, h)
		}
	}
	for _, h := range homes {
		if !slices.ContainsFunc(all, func(k detect.Home) bool { return k.ID == h.ID }) {
			all = append(all, h)
		}
	}
	return findHome(all, id)
}

// lookBack is how far back readings are judged anew where no snapshot is stored
// that this version can read: long enough for what is usual at a home.
const lookBack = 60 * 24 * time.Hour

// readAccount restores the newest snapshot and judges what was stored since.
func readAccount(ctx context.Context, db *state.DB, home detect.Home, since readings) (*account, error) {
	a := &account{home: home}
	stored, err := db.Regenerations(ctx, home.ID, time.Time{}, farFuture)
	if err != nil {
		return nil, err
	}
	for _, r := range stored {
		a.regenerations = append(a.regenerations, bookedRegeneration{r.Record, r.Entry})
	}
	e, err := newestEngine(ctx, db, home)
	if err != nil {
		return nil, err
	}
	if err := catchUp(ctx, e, home.ID, since); err != nil {
		return nil, err
	}
	for _, r := range e.Regenerations() {
		if !slices.ContainsFunc(stored, func(s state.Regeneration) bool { return s.Record.Start.Equal(r.Record.Start) }) {
			a.regenerations = append(a.regenerations, bookedRegeneration{r.Record, &r.Entry})
		}
	}
	a.books, _ = e.Books(home.ID)
	return a, nil
}

// newestEngine is in the state of the newest snapshot that this version of the
// program can read; it has seen nothing where there is none.
func newestEngine(ctx context.Context, db *state.DB, home detect.Home) (*engine.Engine, error) {
	for before := farFuture; ; {
		s, ok, err := db.SnapshotBefore(ctx, home.ID, before)
		if err != nil {
			return nil, err
		}
		e := engine.New([]detect.Home{home}, engine.Options{})
		if !ok {
			return e, nil
		}
		if data, err := judging.Unseal(s.Data); err == nil && e.Restore(home.ID, data) == nil {
			return e, nil
		}
		before = s.Watermark.Add(-1)
	}
}

// catchUp lets an engine judge what is stored after its snapshot.
func catchUp(ctx context.Context, e *engine.Engine, id string, since readings) error {
	from := e.Watermark(id)
	if from.IsZero() {
		from = time.Now().Add(-lookBack)
	}
	all, err := since(ctx, from, farFuture)
	if errors.Is(err, fs.ErrNotExist) {
		return nil // no reading is stored yet
	}
	for _, r := range all {
		e.Observe(r)
	}
	return err
}

// storedReadings reads what "brinebell serve" has stored, without disturbing it.
func storedReadings(config, id string) readings {
	return func(ctx context.Context, from, to time.Time) ([]detect.Reading, error) {
		conf, err := readConfig(config)
		if err != nil {
			return nil, inputError{err}
		}
		if conf.Series.Influx.URL == "" {
			return series.Peek(ctx, filepath.Join(conf.Data, "series"), id, from, to)
		}
		return influxReadings(ctx, conf, id, from, to)
	}
}

// influxReadings asks the server that the readings are kept in.
func influxReadings(ctx context.Context, conf config, id string, from, to time.Time) ([]detect.Reading, error) {
	o, err := conf.influxOptions()
	if err != nil {
		return nil, inputError{err}
	}
	server, err := influx.Open(o)
	if err != nil {
		return nil, err
	}
	all, err := series.ReadHome(ctx, server, id, from, to)
	return all, errors.Join(err, server.Close())
}
