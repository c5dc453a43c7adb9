package influx

import (
	"crypto/tls"
	"errors"
	"fmt"
	"net/url"
	"time"
)

// The defaults of Options.
const (
	// DefaultTimeout bounds one request. A server that takes longer is treated
	// as one that is down; the points are sent again.
	DefaultTimeout = 30 * time.Second
	// DefaultBatch is what the server's makers recommend for one request.
	DefaultBatch = 5000
)

// Options say which server and bucket to use. URL and Bucket must be set.
type Options struct {
	URL    string // http:// or https:// host:port
	Org    string // organisation; InfluxDB 1.8 has none
	Bucket string // or "database/retention policy" with InfluxDB 1.8
	// Token may write to and read from the bucket; with InfluxDB 1.8 it is
	// "user:password", or empty where it asks for none.
	Token     string
	Retention time.Duration // of the bucket: what is older is not sent; 0 for no limit
	Batch     int           // points in one request at most; DefaultBatch when 0
	Timeout   time.Duration // of one request; DefaultTimeout when 0
	TLS       *tls.Config   // for https://; nil for the system's roots
	// Clock is the present, which retention is counted back from; time.Now when
	// nil.
	Clock func() time.Time
}

func (o Options) validate() error {
	u, err := url.Parse(o.URL)
	switch {
	case err != nil || (u.Scheme != "http" && u.Scheme != "https") || u.Host == "":
		return fmt.Errorf("InfluxDB: the address %q is not of the form http://host:8086", o.URL)
	case o.Bucket == "":
		return errors.New("InfluxDB: no bucket given (with InfluxDB 1.8: database/retention policy)")
	case o.Retention < 0 || o.Batch < 0 || o.Timeout < 0:
		return errors.New("InfluxDB: retention, batch and timeout cannot be negative")
	}
	return nil
}

func (o Options) withDefaults() Options {
	if o.Batch == 0 {
		o.Batch = DefaultBatch
	}
	if o.Timeout == 0 {
		o.Timeout = DefaultTimeout
	}
	if o.Clock == nil {
		o.Clock = time.Now
	}
	return o
}
