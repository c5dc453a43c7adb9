package link

import (
	"crypto/tls"
	"crypto/x509"
	"encoding/pem"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	mqtt "github.com/eclipse/paho.mqtt.golang"

	"brinebell/collector/mosquittotest"
	"brinebell/detect/care"
)

// The passwords below, hashed by mosquitto_passwd 2.0.11 itself:
//
//	mosquitto_passwd -c -b FILE mill-1/meter "pass of the meter"
//	mosquitto_passwd -b FILE collector "pass of the collector"
const (
	meterHash     = "$7$101$OAykdKGZ5Rg8KBEt$ccFF4jCNjr6MrorknRVIuLGhos4l2buASMDDij+R2LJJPaznSS09E6xPKJPEd1jx7ButFn3k6D/CsX7DLGJ6Pw=="
	collectorHash = "$7$101$hfyO37NPmGhDjYYg$42c0u1JwVzuosUqJadaL5+4UzqYIy/f3KwVJgICJTAG4KOeP1+uS8mNpXP6UlTXRj/IDmB3jxjS6cBeurqi7/w=="
)

func settings() Mosquitto {
	return Mosquitto{Collector: "collector", Filters: []string{"homes/+/sensors/+", "plumbing/+/main"}, Writes: []string{"homes/+/alerts/+"},
		Devices: []care.Device{
			{Home: "mill-1", ID: "meter", Topics: []string{"plumbing/mill-1/main", "plumbing/quay-1/main"}, Password: true},
			{Home: "mill-1", ID: "old", Disabled: true},
			{Home: "quay-1", ID: "level"},
		},
		Hashes: map[string]string{"mill-1/meter": meterHash, "collector": collectorHash},
		HomeOf: func(topic string) (string, bool) {
			rest, ok := strings.CutPrefix(topic, "plumbing/")
			return strings.TrimSuffix(rest, "/main"), ok
		}}
}

func TestMosquittosFiles(t *testing.T) {
	var acl, passwords strings.Builder
	if err := settings().WriteACL(&acl); err != nil {
		t.Fatal(err)
	}
	if err := settings().WritePasswords(&passwords); err != nil {
		t.Fatal(err)
	}
	const wantACL = `# Each device may publish on its own topics and read nothing.

user collector
topic read homes/+/sensors/+
topic read plumbing/+/main
topic write homes/+/alerts/+

user mill-1/meter
topic write homes/mill-1/sensors/meter
topic write plumbing/mill-1/main
# left out, since its readings are not of this home: plumbing/quay-1/main

user quay-1/level
topic write homes/quay-1/sensors/level
`
	if acl.String() != wantACL {
		t.Error(acl.String())
	}
	if want := "collector:" + collectorHash + "\nmill-1/meter:" + meterHash + "\n"; passwords.String() != want {
		t.Error(passwords.String())
	}
}

// TestARealMosquittoIsGuardedAlike has a real one enforce the files, over TLS
// with client certificates and by password.
func TestARealMosquittoIsGuardedAlike(t *testing.T) {
	ca := newAuthority(t)
	dir := t.TempDir()
	plain, secure := mosquittotest.StartGuarded(t, mosquittotest.Guard{
		ACL: writeFile(t, dir, "acl", settings().WriteACL), Passwords: writeFile(t, dir, "passwords", settings().WritePasswords),
		Authority: writePEM(t, dir, "ca.pem", "CERTIFICATE", ca.cert.Raw),
		Certificate: func() string {
			c := ca.issue("127.0.0.1")
			writeKey(t, dir, c)
			return writePEM(t, dir, "cert.pem", "CERTIFICATE", c.Certificate[0])
		}(),
		Key: filepath.Join(dir, "key.pem")})
	d := newDesk()
	c, err := NewClient(ClientOptions{URL: plain, Username: "collector", Password: "pass of the collector", Filters: settings().Filters, Offer: d.offer})
	if err != nil {
		t.Fatal(err)
	}
	defer run(t, c.Run)()
	awaitConnected(t, c)

	certified := func(name string) func(*mqtt.ClientOptions) {
		return func(o *mqtt.ClientOptions) {
			o.SetTLSConfig(&tls.Config{RootCAs: ca.pool(), Certificates: []tls.Certificate{ca.issue(name)}})
		}
	}
	// Mosquitto cuts off whoever publishes where they may not, or drops it: of
	// each only the last must arrive, and nothing may be heard.
	heard := make(chan string, 16)
	for i, c := range []struct {
		url    string
		prove  func(*mqtt.ClientOptions)
		topics []string
	}{
		{plain, func(o *mqtt.ClientOptions) { o.SetUsername("mill-1/meter").SetPassword("pass of the meter") },
			[]string{"homes/quay-1/sensors/level", "homes/mill-1/sensors/other", "plumbing/quay-1/main", "elsewhere", "homes/mill-1/sensors/meter"}},
		{secure, certified("mill-1/meter"), []string{"homes/quay-1/sensors/level", "homes/mill-1/sensors/old", "plumbing/mill-1/main"}},
		{secure, certified("quay-1/level"), []string{"homes/mill-1/sensors/meter", "plumbing/mill-1/main", "homes/quay-1/sensors/level"}},
	} {
		for n, topic := range c.topics {
			sender := client(t, c.url, fmt.Sprint(i, n), c.prove, func(o *mqtt.ClientOptions) { o.SetCleanSession(true).SetAutoReconnect(false) })
			sender.Subscribe("#", 1, func(_ mqtt.Client, m mqtt.Message) { heard <- m.Topic() }).WaitTimeout(10 * time.Second)
			sender.Publish(topic, 1, false, "x").WaitTimeout(10 * time.Second)
			sender.Disconnect(100)
		}
		if m := receive(t, d.got); m.Topic != c.topics[len(c.topics)-1] {
			t.Errorf("%s got through", m.Topic)
		}
	}
	nothing(t, d.got)
	if len(heard) > 0 {
		t.Errorf("a device heard %s", <-heard)
	}
	for name, url := range map[string]string{"without a certificate": secure, "without a password": plain} {
		c := mqtt.NewClient(mqtt.NewClientOptions().AddBroker(url).SetTLSConfig(&tls.Config{RootCAs: ca.pool()}))
		if token := c.Connect(); !token.WaitTimeout(10*time.Second) || token.Error() == nil {
			t.Errorf("let in %s", name)
		}
	}
}

func writeFile(t *testing.T, dir, name string, write func(io.Writer) error) string {
	t.Helper()
	path := filepath.Join(dir, name)
	f, err := os.OpenFile(path, os.O_CREATE|os.O_WRONLY, 0o600)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	if err := write(f); err != nil {
		t.Fatal(err)
	}
	return path
}

func writePEM(t *testing.T, dir, name, kind string, der []byte) string {
	t.Helper()
	path := filepath.Join(dir, name)
	if err := os.WriteFile(path, pem.EncodeToMemory(&pem.Block{Type: kind, Bytes: der}), 0o600); err != nil {
		t.Fatal(err)
	}
	return path
}

func writeKey(t *testing.T, dir string, c tls.Certificate) {
	t.Helper()
	der, err := x509.MarshalPKCS8PrivateKey(c.PrivateKey)
	if err != nil {
		t.Fatal(err)
	}
	writePEM(t, dir, "key.pem", "PRIVATE KEY", der)
}
