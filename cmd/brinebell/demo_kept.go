package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"time"

	"brinebell/detect"
	"brinebell/simulator"
)

// demoPlan is what a demo needs to go on in another run: the same homes, from
// the same day on.
type demoPlan struct {
	Seed  uint64    `json:"seed"`
	Start time.Time `json:"start"`
}

// planDemo reads the plan that a folder keeps, or makes one whose last day is
// yesterday and keeps it there.
func planDemo(dir string, seed uint64, now time.Time) (p demoPlan, err error) {
	path := filepath.Join(dir, "demo.json")
	text, err := os.ReadFile(path) // #nosec G304 -- the path is given by whoever runs the command or the service
	switch {
	case errors.Is(err, fs.ErrNotExist):
		p = demoPlan{seed, now.UTC().Truncate(24*time.Hour).AddDate(0, 0, -simulator.DemoDays)}
		return p, p.save(path)
	case err != nil:
		return p, inputError{err}
	}
	if err := json.Unmarshal(text, &p); err != nil || p.Start.IsZero() {
		return p, inputError{fmt.Errorf("%s: not the plan of a demo: give --data another folder", path)}
	}
	if p.Seed != seed {
		return p, inputError{fmt.Errorf("%s holds a demo with --seed %d: give that seed, or --data another folder", dir, p.Seed)}
	}
	return p, nil
}

func (p demoPlan) save(path string) error {
	if err := os.MkdirAll(filepath.Dir(path), 0o750); err != nil {
		return inputError{err}
	}
	text, err := json.Marshal(p)
	if err != nil {
		return err
	}
	return os.WriteFile(path, append(text, '\n'), 0o600)
}

// recall finds out how far an earlier run came and what it has told.
func (d *demo) recall(ctx context.Context) error {
	d.stored = map[string]time.Time{}
	var newest time.Time
	for _, h := range d.town.Homes() {
		at := d.service.source.Now(h.ID)
		d.stored[h.ID] = at
		newest = latest(newest, at)
	}
	if newest.IsZero() {
		return nil
	}
	d.now.Store(newest.UnixMilli())
	var told []detect.Alert
	for _, h := range d.town.Homes() {
		alerts, err := d.service.source.Alerts(ctx, h.ID)
		if err != nil {
			return err
		}
		told = append(told, alerts...)
	}
	d.teller.know(told, newest)
	return nil
}

func latest(a, b time.Time) time.Time {
	if a.After(b) {
		return a
	}
	return b
}
