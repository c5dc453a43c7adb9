package influx

import (
	"context"
	"fmt"
	"strings"
	"time"

	"github.com/influxdata/influxdb-client-go/v2/api/query"

	"brinebell/collector/series"
	"brinebell/detect"
)

// The times that the server can hold: nanoseconds in 64 bits, with some space
// that it keeps for itself.
var (
	beginning = time.Date(1678, 1, 1, 0, 0, 0, 0, time.UTC)
	end       = time.Date(2262, 1, 1, 0, 0, 0, 0, time.UTC)
)

// fluxEscapes are those of a string in Flux ("String literals", Flux language
// specification); a dollar sign begins an expression only before a brace.
var fluxEscapes = strings.NewReplacer(`\`, `\\`, `"`, `\"`, "\n", `\n`, "\r", `\r`, "\t", `\t`, "${", `\x24{`)

func quote(s string) string { return `"` + fluxEscapes.Replace(s) + `"` }

func clamp(t time.Time) time.Time {
	switch {
	case t.Before(beginning):
		return beginning
	case t.After(end):
		return end
	}
	return t.UTC()
}

// span begins a query of from <= time < to; ok is false when it holds nothing.
func (s *Store) span(from, to time.Time) (flux string, ok bool) {
	return s.spanOf(s.opts.Bucket, from, to)
}

// spanOf is span of a bucket.
func (s *Store) spanOf(bucket string, from, to time.Time) (flux string, ok bool) {
	from, to = clamp(from), clamp(to)
	return fmt.Sprintf(`from(bucket: %s) |> range(start: %s, stop: %s)`,
		quote(bucket), from.Format(time.RFC3339Nano), to.Format(time.RFC3339Nano)), from.Before(to)
}

// where keeps the values of a home and, of these, of a signal.
func where(home string, signal detect.Signal) string {
	return fmt.Sprintf(` |> filter(fn: (r) => r._measurement == %s and r.home == %s and r._field == "value")`, quote(signal.String()), quote(home))
}

// ask runs a query and hands each record to take. Each has an interface of its
// own: the library's keeps the server's address at its first query, without a
// lock that its readers take.
func (s *Store) ask(ctx context.Context, flux string, take func(*query.FluxRecord) error) error {
	result, err := s.client.QueryAPI(s.opts.Org).Query(ctx, flux)
	if err != nil {
		return failed(err)
	}
	defer result.Close()
	for result.Next() {
		if err := take(result.Record()); err != nil {
			return err
		}
	}
	if err := result.Err(); err != nil {
		return failed(err)
	}
	return nil
}

func failed(err error) error {
	why := whatIsWrong(err)
	if why.kind == ofPoints { // a query that is not understood
		return fmt.Errorf("reading from InfluxDB: %s", why.text)
	}
	return fmt.Errorf("reading from InfluxDB: %w: %s", series.ErrUnavailable, why.text)
}

// point is a record's time and value; ok is false for what is not ours.
func point(r *query.FluxRecord) (p series.Point, ok bool) {
	v, ok := r.Value().(float64)
	at, timed := r.ValueByKey("_time").(time.Time)
	return series.Point{Time: at.UTC().Truncate(time.Millisecond), Value: v}, ok && timed
}
