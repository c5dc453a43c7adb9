package main

import (
	"context"
	"time"

	"brinebell/dashboards/mailpicture"
	"brinebell/detect"
)

// evidenceSource lets the pictures of mails see a collector.
type evidenceSource struct{ *source }

var _ mailpicture.Source = evidenceSource{}

func (s evidenceSource) Home(id string) (detect.Home, bool) {
	for _, h := range s.Homes() {
		if h.ID == id {
			return h, true
		}
	}
	return detect.Home{}, false
}

func (s evidenceSource) Points(ctx context.Context, home string, signal detect.Signal, from, to time.Time, most int) ([]mailpicture.Point, error) {
	points, err := s.source.Points(ctx, home, signal, from, to, most)
	out := make([]mailpicture.Point, len(points))
	for i, p := range points {
		out[i] = mailpicture.Point(p)
	}
	return out, err
}
