package main

import (
	"context"
	"slices"
	"time"

	"brinebell/detect"
	"brinebell/detect/care"
)

// mostAway is how many absences a profile keeps; the oldest go.
const mostAway = 50

// away adds an absence to a home's profile.
func (s *source) away(ctx context.Context, _ care.Person, home string, from, to time.Time) error {
	homes := s.collector.Homes()
	i := slices.IndexFunc(homes, func(h detect.Home) bool { return h.ID == home })
	if i < 0 {
		return unfit("There is no such home.")
	}
	h := homes[i]
	h.Away = append(slices.Clone(h.Away[max(0, len(h.Away)-mostAway+1):]), detect.Span{From: from, To: to})
	text, err := s.collector.Profile(ctx, home)
	if err == nil && text != "" { // a demonstration keeps no profiles
		text, err = detect.WithAway(text, h.Away)
	}
	if err != nil {
		return err
	}
	return s.collector.PutHome(ctx, h, text)
}
