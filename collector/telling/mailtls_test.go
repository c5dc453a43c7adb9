package telling

import (
	"crypto/tls"
	"crypto/x509"
	"errors"
	"net/http/httptest"
	"strings"
	"testing"

	"github.com/emersion/go-sasl"
	"github.com/emersion/go-smtp"

	"brinebell/detect"
)

// guarded is a session that takes nothing before it has heard the password.
type guarded struct {
	session
	in bool
}

func (*guarded) AuthMechanisms() []string { return []string{sasl.Plain} }

func (g *guarded) Auth(string) (sasl.Server, error) {
	return sasl.NewPlainServer(func(_, name, password string) error {
		if name != "bell" || password != "hush-hush" {
			return errors.New("no")
		}
		g.in = true
		return nil
	}), nil
}

func (g *guarded) Mail(from string, o *smtp.MailOptions) error {
	if !g.in {
		return smtp.ErrAuthRequired
	}
	return g.session.Mail(from, o)
}

// secure is a mailbox that asks for a password, over TLS if it is given a
// configuration. Trust is what its certificate is to be checked against.
func secure(t *testing.T, withTLS bool) (box *mailbox, trust *tls.Config) {
	t.Helper()
	certificate := httptest.NewUnstartedServer(nil)
	certificate.StartTLS()
	defer certificate.Close()
	pool := x509.NewCertPool()
	pool.AddCert(certificate.Certificate())
	box = serveMailbox(t, "127.0.0.1:0", func(s *smtp.Server, m *mailbox) {
		s.Backend = smtp.BackendFunc(func(*smtp.Conn) (smtp.Session, error) { return &guarded{session: session{box: m}}, nil })
		s.AllowInsecureAuth = true // that nothing is said in the clear is ours to see to
		if withTLS {
			s.TLSConfig = &tls.Config{Certificates: certificate.TLS.Certificates}
		}
	})
	return box, &tls.Config{RootCAs: pool, ServerName: "example.com"}
}

func TestMailOverTLSWithAPassword(t *testing.T) {
	for name, try := range map[string]struct {
		withTLS, trusted bool
		password         string
		mails            int
	}{
		"as it should be":         {true, true, "hush-hush", 1},
		"wrong password":          {true, true, "wrong", 0},
		"unknown certificate":     {true, false, "hush-hush", 0},
		"server that offers none": {false, true, "hush-hush", 0},
	} {
		t.Run(name, func(t *testing.T) {
			box, trust := secure(t, try.withTLS)
			if !try.trusted {
				trust = &tls.Config{ServerName: "example.com"}
			}
			s := newScene(t, technician("t1", mailTo("tom@firm.test")))
			s.opts.Mail = MailOptions{Host: "127.0.0.1", Port: box.port(), From: "bell@pages.test", Username: "bell", Password: try.password, Config: trust}
			s.restartTeller()
			s.save(raised("a", detect.Burst, detect.ActNow, noon))
			if n := len(box.all()); n != try.mails {
				t.Errorf("%d mails, want %d\n%s", n, try.mails, s.log)
			}
			if strings.Contains(s.log.String(), try.password) {
				t.Errorf("the password is in the log:\n%s", s.log)
			}
			if waiting := s.count(`SELECT count(*) FROM deliveries WHERE next IS NOT NULL`); waiting != 1-try.mails {
				t.Errorf("%d wait, want what was not sent", waiting)
			}
		})
	}
}
