package influx

import (
	"context"
	"strings"
	"time"

	"github.com/influxdata/influxdb-client-go/v2/api/query"

	"brinebell/collector/series"
	"brinebell/detect"
)

var _ series.History = (*Store)(nil)

// Sums are those that the server has worked out; see series.History. They are
// there from when "brinebell store setup" was run, and up to an hour ago.
func (s *Store) Sums(ctx context.Context, home string, signal detect.Signal, from, to time.Time, width time.Duration) (sums []series.Sum, err error) {
	name := FiveMinutes
	if width >= time.Hour {
		name = Hours
	}
	bucket := s.opts.Bucket + "_" + name
	if database, _, ok := strings.Cut(s.opts.Bucket, "/"); ok { // of InfluxDB 1.8
		bucket = database + "/" + name
	}
	flux, ok := s.spanOf(bucket, from, to)
	if !ok {
		return nil, nil
	}
	flux += ` |> filter(fn: (r) => r._measurement == ` + quote(signal.String()) + ` and r.home == ` + quote(home) + `)` +
		` |> pivot(rowKey: ["_time"], columnKey: ["_field"], valueColumn: "_value")`
	err = s.ask(ctx, flux, func(r *query.FluxRecord) error {
		if sum, ok := sumOf(r); ok && within(sum.Start, from, to) {
			sums = append(sums, sum)
		}
		return nil
	})
	return sums, err
}

// sumOf reads a row with a column for each field.
func sumOf(r *query.FluxRecord) (s series.Sum, ok bool) {
	at, ok := r.ValueByKey("_time").(time.Time)
	s.Start = at.UTC()
	for name, to := range map[string]*float64{"min": &s.Min, "mean": &s.Mean, "max": &s.Max} {
		v, is := r.ValueByKey(name).(float64)
		*to, ok = v, ok && is
	}
	n, is := r.ValueByKey("count").(int64)
	s.Count = int(n)
	return s, ok && is
}
