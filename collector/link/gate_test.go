package link

import (
	"context"
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/tls"
	"crypto/x509"
	"crypto/x509/pkix"
	"errors"
	"fmt"
	"math/big"
	mathrand "math/rand/v2"
	"net"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"

	mqtt "github.com/eclipse/paho.mqtt.golang"
	"github.com/eclipse/paho.mqtt.golang/packets"

	"brinebell/detect/care"
)

// devices are two, at two homes of two firms; the password is the login.
type devices struct {
	mu      sync.Mutex
	missing map[string]bool // guarded by mu
}

func (d *devices) DeviceByName(_ context.Context, login string) (care.Device, error) {
	d.mu.Lock()
	defer d.mu.Unlock()
	home, id, _ := strings.Cut(login, "/")
	if d.missing[login] || (login != "mill-1/meter" && login != "quay-1/meter") {
		return care.Device{}, care.ErrWrong
	}
	return care.Device{Home: home, ID: id, Topics: []string{"plumbing/mill-1/main", "plumbing/quay-1/main"}}, nil
}

func (d *devices) DeviceByPassword(ctx context.Context, login, password string) (care.Device, error) {
	if password != login {
		return care.Device{}, care.ErrWrong
	}
	return d.DeviceByName(ctx, login)
}

// refusals are what the broker reports.
type refusals struct {
	mu  sync.Mutex
	all []string // guarded by mu
}

func (r *refusals) add(topic, why string) {
	r.mu.Lock()
	defer r.mu.Unlock()
	r.all = append(r.all, topic+": "+why)
}

func (r *refusals) said(part string) bool {
	r.mu.Lock()
	defer r.mu.Unlock()
	for _, s := range r.all {
		if strings.Contains(s, part) {
			return true
		}
	}
	return false
}

// guarded is a broker with devices and a trusted user.
func guarded(t *testing.T, d *desk, change ...func(*BrokerOptions)) (url string, known *devices, refused *refusals) {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	known, refused = &devices{missing: map[string]bool{}}, &refusals{}
	o := BrokerOptions{Listener: l, Offer: d.offer, Devices: known, Refused: refused.add, Users: map[string]string{"bridge": "b"},
		Wants: func(topic string) bool {
			return strings.HasPrefix(topic, "homes/") || strings.HasPrefix(topic, "plumbing/")
		},
		HomeOf: func(topic string) (string, bool) {
			level := strings.Split(topic, "/")
			return level[1], level[0] == "plumbing"
		}}
	for _, f := range change {
		f(&o)
	}
	b, err := NewBroker(o)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(run(t, b.Run))
	return "tcp://" + l.Addr().String(), known, refused
}

func as(login string) func(*mqtt.ClientOptions) {
	return func(o *mqtt.ClientOptions) {
		o.SetUsername(login).SetPassword(login).SetAutoReconnect(false).SetCleanSession(true)
	}
}

// TestADeviceStaysWithinItsHome tries every topic that is not the device's own.
func TestADeviceStaysWithinItsHome(t *testing.T) {
	d := newDesk()
	url, _, refused := guarded(t, d)
	for topic, allowed := range map[string]bool{
		"homes/mill-1/sensors/meter": true, "plumbing/mill-1/main": true,
		"homes/quay-1/sensors/meter": false, "homes/mill-1/sensors/level": false, "homes/mill-1/sensors/meter/x": false, "homes/mill-1": false,
		"plumbing/quay-1/main": false, // on its list, and of another home
		"plumbing/mill-1/side": false, "elsewhere": false, "$SYS/broker/x": false,
	} {
		c := client(t, url, "c", as("mill-1/meter"))
		token := c.Publish(topic, 1, true, topic)
		patience := 10 * time.Second
		if strings.HasPrefix(topic, "$") {
			patience = 100 * time.Millisecond // such a message is dropped without a word
		}
		delivered := token.WaitTimeout(patience) && token.Error() == nil && c.IsConnectionOpen()
		if strings.HasPrefix(topic, "$") {
			delivered = false
		}
		if delivered != allowed {
			t.Errorf("%s: delivered %v", topic, delivered)
		}
		c.Disconnect(100)
		if allowed {
			if m := receive(t, d.got); m.Topic != topic {
				t.Errorf("%s for %s", m.Topic, topic)
			}
		} else if topic != "$SYS/broker/x" && !refused.said(topic+": mill-1/meter may not publish here") {
			t.Errorf("%s: not reported", topic)
		}
	}
	nothing(t, d.got)
}

// TestADeviceReadsNothing subscribes to all there is.
func TestADeviceReadsNothing(t *testing.T) {
	d := newDesk()
	url, _, _ := guarded(t, d)
	spy := client(t, url, "spy", as("mill-1/meter"))
	defer spy.Disconnect(100)
	heard := make(chan string, 10)
	for _, filter := range []string{"#", "homes/#", "homes/mill-1/sensors/meter", "homes/+/sensors/+", "$SYS/#", "$share/g/homes/#"} {
		token := spy.Subscribe(filter, 1, func(_ mqtt.Client, m mqtt.Message) { heard <- m.Topic() })
		token.WaitTimeout(10 * time.Second)
		codes := token.(*mqtt.SubscribeToken).Result()
		for _, code := range codes { // by the filter, or what is left of it
			if code != refusedCode {
				t.Errorf("%s: subscribed, code %d", filter, code)
			}
		}
		if len(codes) != 1 {
			t.Errorf("%s: %v", filter, codes)
		}
	}
	other := client(t, url, "spy", as("quay-1/meter")) // with the same id, and does not throw it out
	defer other.Disconnect(100)
	publish(t, other, "homes/quay-1/sensors/meter", "x")
	receive(t, d.got)
	if !spy.IsConnectionOpen() {
		t.Error("thrown out by another device of the same id")
	}
	bridge := client(t, url, "bridge", func(o *mqtt.ClientOptions) { o.SetUsername("bridge").SetPassword("b") })
	defer bridge.Disconnect(100)
	if token := bridge.Subscribe("homes/#", 1, func(_ mqtt.Client, m mqtt.Message) { heard <- "bridge " + m.Topic() }); !token.WaitTimeout(10*time.Second) || token.Error() != nil {
		t.Fatal(token.Error())
	}
	publish(t, other, "homes/quay-1/sensors/meter", "y") // the one before was not retained
	if got := <-heard; got != "bridge homes/quay-1/sensors/meter" {
		t.Error(got)
	}
	if token := bridge.Publish("homes/quay-1/alerts/x", 1, true, "stands"); !token.WaitTimeout(10*time.Second) || token.Error() != nil {
		t.Fatal(token.Error())
	}
	<-heard
	late := client(t, url, "late", func(o *mqtt.ClientOptions) { o.SetUsername("bridge").SetPassword("b") })
	defer late.Disconnect(100)
	if token := late.Subscribe("homes/+/alerts/+", 1, func(_ mqtt.Client, m mqtt.Message) { heard <- string(m.Payload()) }); !token.WaitTimeout(10*time.Second) || token.Error() != nil {
		t.Fatal(token.Error())
	}
	if got := <-heard; got != "stands" {
		t.Error("what a trusted user retains is not kept:", got)
	}
}

// refusedCode of a subscription (MQTT 3.1.1, section 3.9.3).
const refusedCode = 0x80

func TestAStrangerIsNotLetIn(t *testing.T) {
	url, known, refused := guarded(t, newDesk())
	known.missing["quay-1/meter"] = true
	for login, password := range map[string]string{"mill-1/meter": "x", "": "", "nobody": "nobody", "quay-1/meter": "quay-1/meter", "bridge": "x"} {
		c := mqtt.NewClient(mqtt.NewClientOptions().AddBroker(url).SetClientID("c").SetUsername(login).SetPassword(password))
		if token := c.Connect(); !token.WaitTimeout(10*time.Second) || token.Error() == nil {
			t.Errorf("%q is let in", login)
		}
		if !refused.said(fmt.Sprintf("%q", login)) {
			t.Errorf("%q: not reported", login)
		}
	}
}

// TestAWillIsNotSaid: a client that dies would have the broker publish for it.
func TestAWillIsNotSaid(t *testing.T) {
	url, _, _ := guarded(t, newDesk())
	heard := make(chan string, 1)
	bridge := client(t, url, "bridge", func(o *mqtt.ClientOptions) { o.SetUsername("bridge").SetPassword("b") })
	defer bridge.Disconnect(100)
	if token := bridge.Subscribe("#", 1, func(_ mqtt.Client, m mqtt.Message) { heard <- m.Topic() }); !token.WaitTimeout(10*time.Second) || token.Error() != nil {
		t.Fatal(token.Error())
	}
	conn, err := net.Dial("tcp", strings.TrimPrefix(url, "tcp://"))
	if err != nil {
		t.Fatal(err)
	}
	connect := packets.NewControlPacket(packets.Connect).(*packets.ConnectPacket)
	connect.ProtocolName, connect.ProtocolVersion, connect.ClientIdentifier, connect.CleanSession, connect.Keepalive = "MQTT", 4, "c", true, 30
	connect.UsernameFlag, connect.PasswordFlag, connect.Username, connect.Password = true, true, "mill-1/meter", []byte("mill-1/meter")
	connect.WillFlag, connect.WillTopic, connect.WillMessage = true, "homes/quay-1/sensors/meter", []byte("x")
	if err := connect.Write(conn); err != nil {
		t.Fatal(err)
	}
	if _, err := packets.ReadPacket(conn); err != nil {
		t.Fatal(err)
	}
	_ = conn.Close()
	publish(t, bridge, "after", "x")
	if got := <-heard; got != "after" {
		t.Error(got)
	}
}

func TestARemovedDeviceIsCutOff(t *testing.T) {
	known := &devices{missing: map[string]bool{"mill-1/meter": true}}
	g := &gate{opts: BrokerOptions{Devices: known}}
	p := &pass{device: care.Device{Home: "mill-1", ID: "meter"}, checked: time.Now()}
	if !g.stillThere(p) {
		t.Error("looked up for each message")
	}
	p.checked = time.Now().Add(-2 * recheck)
	if g.stillThere(p) {
		t.Error("goes on")
	}
}

// authority makes certificates.
type authority struct {
	t    *testing.T
	cert *x509.Certificate
	key  *ecdsa.PrivateKey
}

func newAuthority(t *testing.T) *authority {
	t.Helper()
	a := &authority{t: t}
	own := a.issue("authority", func(c *x509.Certificate) {
		c.IsCA, c.BasicConstraintsValid, c.KeyUsage = true, true, x509.KeyUsageCertSign
	})
	var err error
	if a.cert, err = x509.ParseCertificate(own.Certificate[0]); err != nil {
		t.Fatal(err)
	}
	a.key = own.PrivateKey.(*ecdsa.PrivateKey)
	return a
}

func (a *authority) issue(name string, change ...func(*x509.Certificate)) tls.Certificate {
	a.t.Helper()
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		a.t.Fatal(err)
	}
	c := &x509.Certificate{SerialNumber: big.NewInt(mathrand.Int64()), Subject: pkix.Name{CommonName: name}, NotBefore: time.Now().Add(-time.Hour), NotAfter: time.Now().Add(time.Hour),
		KeyUsage: x509.KeyUsageDigitalSignature, ExtKeyUsage: []x509.ExtKeyUsage{x509.ExtKeyUsageClientAuth, x509.ExtKeyUsageServerAuth}, IPAddresses: []net.IP{net.IPv4(127, 0, 0, 1)}}
	for _, f := range change {
		f(c)
	}
	parent, signer := a.cert, a.key
	if parent == nil {
		parent, signer = c, key
	}
	der, err := x509.CreateCertificate(rand.Reader, c, parent, &key.PublicKey, signer)
	if err != nil {
		a.t.Fatal(err)
	}
	return tls.Certificate{Certificate: [][]byte{der}, PrivateKey: key}
}

func (a *authority) pool() *x509.CertPool {
	p := x509.NewCertPool()
	p.AddCert(a.cert)
	return p
}

func TestACertificateSaysWhichDevice(t *testing.T) {
	ours, others := newAuthority(t), newAuthority(t)
	d := newDesk()
	secure, err := tls.Listen("tcp", "127.0.0.1:0", &tls.Config{Certificates: []tls.Certificate{ours.issue("broker")}, ClientCAs: ours.pool(),
		ClientAuth: tls.VerifyClientCertIfGiven, MinVersion: tls.VersionTLS12})
	if err != nil {
		t.Fatal(err)
	}
	guarded(t, d, func(o *BrokerOptions) { o.Secure = secure })
	url := "ssl://" + secure.Addr().String()
	for name, c := range map[string]struct {
		config *tls.Config
		login  string
		want   bool
	}{
		"its own":                 {&tls.Config{Certificates: []tls.Certificate{ours.issue("mill-1/meter")}}, "", true},
		"its own, and says so":    {&tls.Config{Certificates: []tls.Certificate{ours.issue("mill-1/meter")}}, "mill-1/meter", true},
		"another's":               {&tls.Config{Certificates: []tls.Certificate{ours.issue("quay-1/meter")}}, "mill-1/meter", false},
		"of another authority":    {&tls.Config{Certificates: []tls.Certificate{others.issue("mill-1/meter")}}, "", false},
		"of nobody":               {&tls.Config{Certificates: []tls.Certificate{ours.issue("attic")}}, "", false},
		"none, and a password":    {&tls.Config{}, "mill-1/meter", true},
		"none, and none":          {&tls.Config{}, "", false},
		"expired":                 {&tls.Config{Certificates: []tls.Certificate{ours.issue("mill-1/meter", func(c *x509.Certificate) { c.NotAfter = time.Now().Add(-time.Minute) })}}, "", false},
		"TLS 1.1 with a password": {&tls.Config{MaxVersion: tls.VersionTLS11}, "mill-1/meter", false},
	} {
		c.config.RootCAs = ours.pool()
		o := mqtt.NewClientOptions().AddBroker(url).SetClientID("c").SetTLSConfig(c.config).SetAutoReconnect(false)
		if c.login != "" {
			o.SetUsername(c.login).SetPassword(c.login)
		}
		client := mqtt.NewClient(o)
		token := client.Connect()
		if in := token.WaitTimeout(10*time.Second) && token.Error() == nil; in != c.want {
			t.Errorf("%s: let in %v: %v", name, in, token.Error())
		}
		if c.want {
			publish(t, client, "homes/mill-1/sensors/meter", name)
			receive(t, d.got)
			client.Disconnect(100)
		}
	}
}

// TestMalformedPackets throws 10,000 packets at the broker that are broken in
// one way or another, and then publishes as if nothing had been.
func TestMalformedPackets(t *testing.T) {
	const packetsInAll, each = 10_000, 20
	d := newDesk()
	url, _, _ := guarded(t, d)
	address := strings.TrimPrefix(url, "tcp://")
	random := mathrand.New(mathrand.NewPCG(7, 7))
	var senders sync.WaitGroup
	slots := make(chan struct{}, 32)
	for sent := 0; sent < packetsInAll; sent += each {
		var stream []byte
		if sent%(2*each) == 0 { // half of them by somebody who is let in
			stream = connectPacket("mill-1/meter")
		}
		for range each {
			stream = append(stream, malformed(random)...)
		}
		slots <- struct{}{}
		senders.Go(func() {
			defer func() { <-slots }()
			conn, err := net.Dial("tcp", address)
			if err != nil {
				t.Error(err)
				return
			}
			_, _ = conn.Write(stream) // the broker may hang up before its end
			_ = conn.Close()
		})
	}
	senders.Wait()
	c := client(t, url, "another", as("mill-1/meter"))
	defer c.Disconnect(100)
	publish(t, c, "homes/mill-1/sensors/meter", "well")
	for {
		if m := receive(t, d.got); string(m.Payload) == "well" {
			return
		} else if m.Topic != "homes/mill-1/sensors/meter" {
			t.Errorf("%q got through", m.Topic)
		}
	}
}

func connectPacket(login string) []byte {
	body := append([]byte{0, 4, 'M', 'Q', 'T', 'T', 4, 0xC2, 0, 30, 0, 1, 'c', 0, byte(len(login))}, login...)
	body = append(append(body, 0, byte(len(login))), login...)
	return append([]byte{0x10, byte(len(body))}, body...)
}

// malformed is a packet broken by one of: any bytes; a length that is wrong or
// endless; a topic longer than the packet, with wildcards or not UTF-8; a packet
// of the wrong kind at this point; flags that are reserved (MQTT 3.1.1, sections
// 2.2.2, 2.2.3, 1.5.3, 3.3.2.1).
func malformed(r *mathrand.Rand) []byte {
	bytes := func(n int) []byte {
		b := make([]byte, n)
		for i := range b {
			b[i] = byte(r.Uint32())
		}
		return b
	}
	switch r.IntN(8) {
	case 0:
		return bytes(1 + r.IntN(64))
	case 1:
		return append([]byte{0x32, byte(r.IntN(128))}, bytes(r.IntN(40))...)
	case 2:
		return []byte{byte(r.Uint32()), 0xFF, 0xFF, 0xFF, 0xFF, 0xFF}
	case 3:
		return append([]byte{0x30, 6, 0xFF, 0xFF}, bytes(4)...)
	case 4:
		return append([]byte{0x30, 5, 0, 1, '#'}, bytes(2)...)
	case 5:
		return append([]byte{0x30, 6, 0, 2, 0xC3, 0x28}, bytes(2)...)
	case 6:
		return append([]byte{byte(r.IntN(16))<<4 | byte(r.IntN(16)), 4}, bytes(4)...)
	}
	return append([]byte{0x82, 7, 0, 1, 0, 2, 'a', '/'}, byte(3+r.IntN(200)))
}

// TestASilentClientIsCutOff: one that connects and says nothing, or says it byte
// by byte, and one that has said who it is and may then be silent.
func TestASilentClientIsCutOff(t *testing.T) {
	d := newDesk()
	url, _, _ := guarded(t, d, func(o *BrokerOptions) { o.Hello = 200 * time.Millisecond })
	well := client(t, url, "well", as("mill-1/meter"))
	defer well.Disconnect(100)
	for name, hello := range map[string][]byte{"nothing": nil, "the beginning": connectPacket("mill-1/meter")[:5]} {
		conn, err := net.Dial("tcp", strings.TrimPrefix(url, "tcp://"))
		if err != nil {
			t.Fatal(err)
		}
		if _, err := conn.Write(hello); err != nil {
			t.Fatal(err)
		}
		_ = conn.SetReadDeadline(time.Now().Add(20 * time.Second))
		var late net.Error
		if _, err := conn.Read(make([]byte, 1)); err == nil || errors.As(err, &late) && late.Timeout() {
			t.Errorf("%s: still connected: %v", name, err)
		}
		_ = conn.Close()
	}
	publish(t, well, "homes/mill-1/sensors/meter", "x") // later than Hello
	receive(t, d.got)
}

// failing is a listener that cannot take the first connections.
type failing struct {
	net.Listener
	times int
}

func (f *failing) Accept() (net.Conn, error) {
	if f.times > 0 {
		f.times--
		return nil, syscall.EMFILE // too many open files
	}
	return f.Listener.Accept()
}

func TestTheBrokerOutlivesAFailedAccept(t *testing.T) {
	d := newDesk()
	url, _, _ := guarded(t, d, func(o *BrokerOptions) { o.Listener = &failing{o.Listener, 2} })
	c := client(t, url, "c", as("mill-1/meter"))
	defer c.Disconnect(100)
	publish(t, c, "homes/mill-1/sensors/meter", "x")
	receive(t, d.got)
}
