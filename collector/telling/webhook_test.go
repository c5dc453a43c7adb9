package telling

import (
	"bytes"
	"context"
	"crypto/hmac"
	"crypto/sha256"
	"encoding/base64"
	"encoding/json"
	"io"
	"net/http"
	"net/http/httptest"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"brinebell/detect"
	"brinebell/detect/care"
)

// hook is a real webhook receiver.
type hook struct {
	server *httptest.Server

	mu      sync.Mutex // guards the rest
	answers []int      // codes, in turn; 200 when there are none left
	got     []posted
}

type posted struct {
	header http.Header
	body   []byte
}

func openHook(t *testing.T, answers ...int) *hook {
	t.Helper()
	h := &hook{answers: answers}
	h.server = httptest.NewTLSServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		body, err := io.ReadAll(r.Body)
		if err != nil {
			t.Error(err)
		}
		h.mu.Lock()
		defer h.mu.Unlock()
		h.got = append(h.got, posted{r.Header, body})
		code := http.StatusOK
		if len(h.answers) > 0 {
			code, h.answers = h.answers[0], h.answers[1:]
		}
		w.Header().Set("Location", "https://127.0.0.1:1/elsewhere")
		w.WriteHeader(code)
	}))
	t.Cleanup(h.server.Close)
	return h
}

func (h *hook) all() []posted {
	h.mu.Lock()
	defer h.mu.Unlock()
	return slices.Clone(h.got)
}

const hookSecret = "whsec_MfKQ9r8GKYqrTwjUPD8ILPZIo2LaLaSw"

func (h *hook) channel() care.Channel {
	return care.Channel{Kind: care.Webhook, Target: h.server.URL + "/in?token=hidden", Secret: hookSecret}
}

// hooks lets webhooks go to the receiver's private address and self-made
// certificate.
func (s *scene) hooks(h *hook) {
	s.opts.Private, s.opts.Webhooks = true, h.server.Client().Transport.(*http.Transport).TLSClientConfig
	s.restartTeller()
	s.t.Cleanup(func() { s.teller.senders[care.Webhook].(webhook).client.CloseIdleConnections() })
}

// The worked example of the Standard Webhooks specification 1.0.0, as its
// reference libraries test it.
func TestSignatureOfTheSpecification(t *testing.T) {
	h := http.Header{}
	sign(h, hookSecret, "msg_p5jXN8AQM9LWM0D4loKWxJek", time.Unix(1614265330, 0), []byte(`{"test": 2432232314}`))
	if got, want := h.Get("webhook-signature"), "v1,g0hM9SsE+OTPJTGt/tmIKtSyZlE3uFJELVlNIOLJ1OE="; got != want {
		t.Errorf("%s, want %s", got, want)
	}
}

func TestWebhookTakesASignedCloudEvent(t *testing.T) {
	h := openHook(t)
	s := newScene(t, technician("t1", h.channel()))
	s.hooks(h)
	leak := raised("a", detect.NightLeak, detect.Plan, noon)
	s.now = noon.Add(14 * time.Hour) // programs do not sleep
	s.save(leak)
	all := h.all()
	if len(all) != 1 {
		t.Fatalf("%d events", len(all))
	}
	got := all[0]
	// The receiver's side of the specification, apart from ours.
	key, err := base64.StdEncoding.DecodeString(strings.TrimPrefix(hookSecret, "whsec_"))
	if err != nil {
		t.Fatal(err)
	}
	mac := hmac.New(sha256.New, key)
	mac.Write([]byte(got.header.Get("webhook-id") + "." + got.header.Get("webhook-timestamp") + "." + string(got.body)))
	if want := "v1," + base64.StdEncoding.EncodeToString(mac.Sum(nil)); got.header.Get("webhook-signature") != want {
		t.Errorf("signature %s, want %s", got.header.Get("webhook-signature"), want)
	}
	holdCloudEvent(t, got)
	var e struct {
		ID, Source, Type, Subject string
		Data                      struct {
			Home  string
			Case  struct{ ID, Stage, Severity, Kind, Cause string }
			Step  struct{ Act, Alert string }
			Alert struct {
				Alert, Kind string
				Cleared     *time.Time
			}
			Link string
		}
	}
	if err := json.Unmarshal(got.body, &e); err != nil {
		t.Fatal(err)
	}
	if e.ID != got.header.Get("webhook-id") || e.Type != "brinebell.case.raised" || e.Source != "https://pages.test" || e.Subject != "homes/a/cases/"+leak.ID ||
		e.Data.Home != "a" || e.Data.Case.Stage != "open" || e.Data.Case.Kind != "night_leak" || e.Data.Case.Cause != "flapper_leak" || e.Data.Step.Alert != leak.ID ||
		e.Data.Alert.Alert != leak.ID || e.Data.Alert.Cleared != nil || e.Data.Link != "https://pages.test/homes/a/cases/"+leak.ID {
		t.Errorf("%s", got.body)
	}
}

// holdCloudEvent holds an event to what CloudEvents 1.0.2 requires: in structured
// mode its media type, and of the attributes (section "Required attributes")
// that they are there, that names are lower-case letters and digits, and that
// time is RFC 3339.
func holdCloudEvent(t *testing.T, p posted) {
	t.Helper()
	if media := p.header.Get("Content-Type"); !strings.HasPrefix(media, "application/cloudevents+json") {
		t.Errorf("media type %q", media)
	}
	var e map[string]json.RawMessage
	if err := json.Unmarshal(p.body, &e); err != nil {
		t.Fatal(err)
	}
	for _, required := range []string{"id", "source", "specversion", "type"} {
		var v string
		if err := json.Unmarshal(e[required], &v); err != nil || v == "" {
			t.Errorf("attribute %s: %s %v", required, e[required], err)
		}
	}
	for name := range e {
		if strings.Trim(name, "abcdefghijklmnopqrstuvwxyz0123456789") != "" {
			t.Errorf("attribute name %q", name)
		}
	}
	var at time.Time
	if err := json.Unmarshal(e["time"], &at); err != nil || string(e["specversion"]) != `"1.0"` {
		t.Errorf("time %s, version %s: %v", e["time"], e["specversion"], err)
	}
}

func TestWebhookComesAgainUnderTheSameNumber(t *testing.T) {
	h := openHook(t, http.StatusInternalServerError, http.StatusFound, http.StatusTooManyRequests)
	s := newScene(t, technician("t1", h.channel()))
	s.hooks(h)
	s.save(raised("a", detect.Burst, detect.ActNow, noon))
	s.until(noon.Add(10 * time.Minute))
	all := h.all()
	if len(all) != 4 {
		t.Fatalf("%d posts, want three refused and one taken, and none after", len(all))
	}
	for _, p := range all {
		if p.header.Get("webhook-id") != all[0].header.Get("webhook-id") || !bytes.Equal(p.body, all[0].body) {
			t.Errorf("%v\n%s differs from the first", p.header, p.body)
		}
	}
}

func TestWebhookThatIsGone(t *testing.T) {
	h := openHook(t, http.StatusGone)
	s := newScene(t, technician("t1", h.channel()))
	s.hooks(h)
	s.save(raised("a", detect.Burst, detect.ActNow, noon))
	s.until(noon.Add(10 * time.Minute))
	if n := s.count(`SELECT count(*) FROM deliveries WHERE outcome = ?`, refused); n != 1 || len(h.all()) != 1 {
		t.Errorf("%d refused, %d posts", n, len(h.all()))
	}
}

func TestOneSlowReceiverDoesNotHoldUpTheRest(t *testing.T) {
	release := make(chan struct{})
	slow := httptest.NewTLSServer(http.HandlerFunc(func(_ http.ResponseWriter, r *http.Request) {
		select {
		case <-release:
		case <-r.Context().Done():
		}
	}))
	t.Cleanup(slow.Close)
	h := openHook(t)
	s := newScene(t, technician("t1", care.Channel{Kind: care.Webhook, Target: slow.URL, Secret: hookSecret}, h.channel()))
	s.hooks(h)
	done := make(chan struct{})
	go func() {
		defer close(done)
		s.save(raised("a", detect.Burst, detect.ActNow, noon))
	}()
	for len(h.all()) == 0 { // it comes while the other is still waited for
		select {
		case <-done:
			t.Fatal("it ended before the slow one was released")
		case <-time.After(time.Millisecond):
		}
	}
	close(release)
	<-done
}

// Nobody can have this machine knock at its own network, by address or by name.
func TestWebhooksLeadOutside(t *testing.T) {
	for _, address := range []string{"127.0.0.1:443", "[::1]:443", "10.1.2.3:443", "192.168.0.1:443", "172.16.0.1:80", "169.254.169.254:80", "100.64.0.1:443", "[fe80::1]:443",
		"[fd00::1]:443", "0.0.0.0:443", "[::ffff:127.0.0.1]:443", "224.0.0.1:443"} {
		if err := onlyPublic("tcp", address, nil); err == nil {
			t.Errorf("%s is let through", address)
		}
	}
	// From the documentation's blocks (RFC 5737, RFC 3849), which are as public as
	// any to look at.
	for _, address := range []string{"192.0.2.1:443", "[2001:db8::1]:443"} {
		if err := onlyPublic("tcp", address, nil); err != nil {
			t.Errorf("%s: %v", address, err)
		}
	}
	h := openHook(t)
	s := newScene(t, technician("t1", h.channel(), care.Channel{Kind: care.Webhook, Target: "https://localhost:1/", Secret: hookSecret}))
	s.save(raised("a", detect.Burst, detect.ActNow, noon))
	if n := len(h.all()); n != 0 || !strings.Contains(s.log.String(), errPrivate.Error()) {
		t.Errorf("%d posts\n%s", n, s.log)
	}
}

func TestTrialOfAChannel(t *testing.T) {
	h := openHook(t)
	s := newScene(t)
	s.hooks(h)
	p := technician("t1", h.channel(), care.Channel{Kind: "pigeon"})
	if err := s.teller.Try(context.Background(), p, 0); err != nil || len(h.all()) != 1 {
		t.Fatalf("%v, %d posts", err, len(h.all()))
	}
	holdCloudEvent(t, h.all()[0])
	for _, n := range []int{-1, 1, 2} {
		if err := s.teller.Try(context.Background(), p, n); err == nil {
			t.Errorf("channel %d", n)
		}
	}
}
