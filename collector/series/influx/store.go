package influx

import (
	"net/http"
	"sync"
	"time"

	influxdb2 "github.com/influxdata/influxdb-client-go/v2"
	"github.com/influxdata/influxdb-client-go/v2/api"

	"brinebell/collector/series"
	"brinebell/detect"
)

// Store is a bucket of a server.
type Store struct {
	opts   Options
	http   *http.Client
	client influxdb2.Client
	writes api.WriteAPIBlocking

	mu       sync.Mutex           // guards all below
	newest   map[key]series.Point // of series whose newest point is known
	asked    bool                 // newest has been filled from the server's last minutes
	oldest   time.Time            // as far as known
	oldestAt time.Time            // when that was asked for
}

var (
	_ series.Store      = (*Store)(nil)
	_ series.HomeReader = (*Store)(nil)
)

// key names a series.
type key struct {
	home   string
	signal detect.Signal
}

// Open makes the store. The server need not be there yet.
func Open(opts Options) (*Store, error) {
	opts = opts.withDefaults()
	if err := opts.validate(); err != nil {
		return nil, err
	}
	s := &Store{opts: opts, newest: map[key]series.Point{}}
	transport := http.DefaultTransport.(*http.Transport).Clone()
	transport.TLSClientConfig = opts.TLS
	s.http = &http.Client{Timeout: opts.Timeout, Transport: transport}
	s.client = influxdb2.NewClientWithOptions(opts.URL, opts.Token,
		influxdb2.DefaultOptions().SetHTTPClient(s.http).SetPrecision(time.Millisecond).SetLogLevel(0))
	s.writes = s.client.WriteAPIBlocking(opts.Org, opts.Bucket)
	return s, nil
}

// Close ends the connections. What was appended is with the server already.
func (s *Store) Close() error {
	s.client.Close()
	s.http.CloseIdleConnections()
	return nil
}
