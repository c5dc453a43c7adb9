package influx

import (
	"context"
	"fmt"
	"net/http"
	"strings"
	"time"

	"brinebell/collector/series"
)

// The names of what is made for downsampling: retention policies of the database
// with InfluxDB 1.8, buckets named after the readings' with InfluxDB 2. The
// measurements and tags are those of the readings, the fields min, mean, max and
// count.
const (
	FiveMinutes = "five_minutes"
	Hours       = "hours"
	// taskPrefix begins the names of continuous queries and tasks.
	taskPrefix = "brinebell_"
)

// Setup says what a server should have for Brinebell.
type Setup struct {
	Retention   time.Duration // of readings; 0 for ever
	FiveMinutes time.Duration // how long sums of five minutes are kept; 0 for ever
	Hours       time.Duration // and those of an hour
	// Shorten lets retention become shorter than it is, which deletes what is
	// older.
	Shorten bool
}

// level is one downsampling.
type level struct {
	name  string
	width string // as both query languages write it
	every string // how often it is worked out
	keep  time.Duration
}

// levels are worked out again over the last day each time, so that readings a
// day late are in them.
func (s Setup) levels() []level {
	return []level{{FiveMinutes, "5m", "1h", s.FiveMinutes}, {Hours, "1h", "3h", s.Hours}}
}

// Step is something that a server lacks.
type Step struct {
	Text string                      // what is to be done, for a person
	Do   func(context.Context) error // nil when Text only remarks on something
}

// remark says that a longer retention stays.
func remark(name string, now, want time.Duration) Step {
	return Step{Text: fmt.Sprintf("%s keeps %s, longer than the %s asked for; --shorten changes that and deletes what is older",
		name, forHowLong(now), strings.TrimPrefix(forHowLong(want), "for "))}
}

// Missing asks the server what it lacks. Nothing is changed before the steps are
// done, in order. Done once, nothing is missing any more.
func (s *Store) Missing(ctx context.Context, want Setup) ([]Step, error) {
	second, err := s.isVersion2(ctx)
	if err != nil {
		return nil, err
	}
	if second {
		return s.missingV2(ctx, want)
	}
	return s.missingV1(ctx, want)
}

// isVersion2 asks for what only InfluxDB 2 has; a server built from source does
// not know its version. It answers without asking who one is.
func (s *Store) isVersion2(ctx context.Context) (bool, error) {
	request, err := http.NewRequestWithContext(ctx, http.MethodGet, strings.TrimSuffix(s.opts.URL, "/")+"/api/v2/setup", nil)
	if err != nil {
		return false, err
	}
	answer, err := s.http.Do(request)
	if err != nil {
		return false, fmt.Errorf("InfluxDB: %w: %w", series.ErrUnavailable, err)
	}
	defer answer.Body.Close()
	if answer.Header.Get("X-Influxdb-Version") == "" && answer.Header.Get("X-Influxdb-Build") == "" {
		return false, fmt.Errorf("InfluxDB: what answers at %s does not say that it is one", s.opts.URL)
	}
	return answer.StatusCode == http.StatusOK, nil
}

// forHowLong is a retention for a person.
func forHowLong(d time.Duration) string {
	if d == 0 {
		return "for ever"
	}
	return fmt.Sprintf("for %.4g days", d.Hours()/24)
}

// shorter says whether one retention is shorter than another, where 0 is for
// ever.
func shorter(a, b time.Duration) bool { return a != 0 && (b == 0 || a < b) }
