package main

import (
	"crypto/tls"
	"crypto/x509"
	"errors"
	"fmt"
	"net"
	"net/netip"
	"os"

	"brinebell/collector"
	"brinebell/collector/link"
	"brinebell/collector/people"
	"brinebell/collector/state"
)

// accountsConfig says who may come in.
type accountsConfig struct {
	Open    bool     `yaml:"open" doc:"true: nobody signs in and everybody sees and changes everything; only where listen is an address of this machine"`
	Proxies []string `yaml:"proxies" doc:"addresses or networks of the web servers before the pages, which may say for whom they ask, as in 10.0.0.0/8"`
}

func (c accountsConfig) proxies() (out []netip.Prefix, err error) {
	for _, text := range c.Proxies {
		p, err := netip.ParsePrefix(text)
		if a, alone := netip.ParseAddr(text); err != nil && alone == nil {
			p, err = a.Prefix(a.BitLen())
		}
		if err != nil {
			return nil, fmt.Errorf("accounts.proxies: %q is neither an address nor a network, as in 10.0.0.0/8", text)
		}
		out = append(out, p)
	}
	return out, nil
}

func (c accountsConfig) validate(listen string) error {
	_, err := c.proxies()
	if c.Open && !onThisMachine(listen) {
		err = errors.Join(err, fmt.Errorf("accounts.open: listen is %s: pages that are open to everybody must listen on this machine only, as on %s", listen, defaultListen))
	}
	return err
}

// onThisMachine says whether an address to listen on is reached from this
// machine alone.
func onThisMachine(listen string) bool {
	host, _, err := net.SplitHostPort(listen)
	if err != nil {
		return false
	}
	a, err := netip.ParseAddr(host)
	return host == "localhost" || err == nil && a.IsLoopback()
}

// brokerTLSConfig is the embedded broker's side that speaks TLS.
type brokerTLSConfig struct {
	Listen      string `yaml:"listen" doc:"address for devices that speak TLS, as in 0.0.0.0:8883"`
	Certificate string `yaml:"certificate" doc:"file with the broker's certificate, PEM"`
	Key         string `yaml:"key" doc:"file with its key, PEM"`
	Authority   string `yaml:"authority" doc:"file with the authority whose certificates devices may prove themselves by, PEM; the common name is the device's login"`
}

func (c brokerTLSConfig) validate() error {
	switch {
	case c.Listen == "" && c != (brokerTLSConfig{}):
		return errors.New("broker.tls.listen: missing: the address, as in 0.0.0.0:8883")
	case c.Listen != "" && (c.Certificate == "" || c.Key == ""):
		return errors.New("broker.tls: give certificate and key, two files")
	}
	return nil
}

func (c brokerTLSConfig) config() (*tls.Config, error) {
	if c.Listen == "" {
		return nil, nil
	}
	pair, err := tls.LoadX509KeyPair(c.Certificate, c.Key)
	if err != nil {
		return nil, fmt.Errorf("broker.tls: %w", err)
	}
	t := &tls.Config{Certificates: []tls.Certificate{pair}, MinVersion: tls.VersionTLS12}
	if c.Authority == "" {
		return t, nil
	}
	pem, err := os.ReadFile(c.Authority)
	if err != nil {
		return nil, fmt.Errorf("broker.tls: %w", err)
	}
	t.ClientCAs, t.ClientAuth = x509.NewCertPool(), tls.VerifyClientCertIfGiven
	if !t.ClientCAs.AppendCertsFromPEM(pem) {
		return nil, fmt.Errorf("broker.tls.authority: %s holds no certificate", c.Authority)
	}
	return t, nil
}

// validateAccess checks what the broker is told about who may connect.
func (c brokerConfig) validateAccess() error {
	if c.Anonymous && (!onThisMachine(c.Listen) || c.TLS.Listen != "" || len(c.Users) > 0) {
		return errors.New("broker.anonymous: only for a broker that listens on this machine alone, without tls and users")
	}
	return c.TLS.validate()
}

// access puts who may connect to the embedded broker into its options.
func (c brokerConfig) access(o *collector.BrokerOptions) (err error) {
	if !c.Anonymous {
		o.Devices = func(db *state.DB) link.Devices { return people.New(people.Options{DB: db}) }
	}
	o.ListenTLS = c.TLS.Listen
	o.TLS, err = c.TLS.config()
	return err
}
