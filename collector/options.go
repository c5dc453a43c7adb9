package collector

import (
	"crypto/tls"
	"errors"
	"fmt"
	"log/slog"
	"time"

	"github.com/prometheus/client_golang/prometheus"

	"brinebell/collector/adapter"
	"brinebell/collector/link"
	"brinebell/collector/series"
	"brinebell/collector/state"
	"brinebell/detect"
)

// Options say what a collector works with. Dir, Homes and one kind of broker
// must be set.
type Options struct {
	// Dir holds the stores; it is made when it is not there. One collector each.
	Dir string
	// Homes are the profiles of the homes to collect for. Readings of any other
	// go to the quarantine.
	Homes []detect.Home
	// Profiles are the homes' profiles as text, by id, as a homes file has them.
	// May be nil.
	Profiles map[string]string
	// Kept adds the homes that were put in while running, with what was changed
	// of the others since the homes file last was.
	Kept   bool
	Broker BrokerOptions
	// Adapters are of sensors that do not speak SenML.
	Adapters []adapter.Config
	// Store replaces the embedded series store, which is opened in Dir when it
	// is nil. The collector closes it, and runs it if it is a series.Runner.
	Store series.Store
	// OpenStore, when Store is nil, opens the series store in place of the
	// embedded one, with metrics for the registerer.
	OpenStore func(prometheus.Registerer) (series.Store, error)
	// Window is how late a reading may come and Retention how long it is kept,
	// in the embedded store; its defaults when 0.
	Window, Retention time.Duration
	// FiveMinutes and Hours are how long the embedded store keeps sums of these
	// lengths; its defaults when 0.
	FiveMinutes, Hours time.Duration
	// NoSync leaves the flush to the disk to the operating system: faster, and
	// the last readings may be lost with the machine's power.
	NoSync bool
	// Clock is the present, against which relative and future times of readings
	// are held; time.Now when nil. A demonstration at accelerated time gives its
	// own.
	Clock func() time.Time
	// Care says how cases are kept and people told.
	Care CareOptions
	// Changed is told of alerts that were raised, changed or cleared, after they
	// were saved. It must not block. May be nil.
	Changed    func([]detect.Alert)
	Logger     *slog.Logger          // nil for none
	Registerer prometheus.Registerer // of metrics, all named brinebell_...; nil for none
}

// BrokerOptions say where messages come from: Listen for the embedded broker or
// URL for one elsewhere.
type BrokerOptions struct {
	// Listen is the address of the embedded broker, host:port; port 0 takes a
	// free one.
	Listen string
	// ListenTLS is its address for TLS, with the certificate of TLS; a client
	// certificate by one of TLS.ClientCAs says which device it is. With one of
	// the two addresses the broker is embedded.
	ListenTLS string
	// Users are names and passwords of who may publish and read everything at
	// the embedded broker, and Devices, of the collector's own state store, who
	// may publish on their own topics only. Anyone may do everything when there
	// are neither.
	Users   map[string]string
	Devices func(*state.DB) link.Devices

	// URL of a broker elsewhere: tcp://, ssl:// or ws:// host:port.
	URL string
	// ClientID names the session there, one collector each; a default when
	// empty.
	ClientID           string
	Username, Password string
	TLS                *tls.Config // for ssl://, nil for the system's roots; of ListenTLS
}

// embedded says whether the broker is the collector's own.
func (o BrokerOptions) embedded() bool { return o.Listen != "" || o.ListenTLS != "" }

func (o Options) validate() error {
	switch {
	case o.Dir == "":
		return errors.New("collector: no directory for the stores given")
	case o.Broker.ListenTLS != "" && o.Broker.TLS == nil:
		return errors.New("collector: the broker's address for TLS needs a certificate")
	case o.Broker.embedded() == (o.Broker.URL != ""):
		return errors.New("collector: give either an address for the embedded broker or the URL of another")
	}
	seen := map[string]bool{}
	for _, h := range o.Homes {
		if h.ID == "" || seen[h.ID] {
			return fmt.Errorf("collector: home id %q is empty or given twice", h.ID)
		}
		seen[h.ID] = true
	}
	for _, a := range o.Adapters {
		if a.Home != "" && !seen[a.Home] && !o.Kept {
			return fmt.Errorf("collector: the adapter for topic %q is of home %q, which is not among the homes", a.Topic, a.Home)
		}
	}
	return nil
}

func (o Options) withDefaults() Options {
	if o.Clock == nil {
		o.Clock = time.Now
	}
	if o.Logger == nil {
		o.Logger = slog.New(slog.DiscardHandler)
	}
	return o
}
