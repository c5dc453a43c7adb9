package telling

import (
	"bytes"
	"context"
	"crypto/hmac"
	"crypto/sha256"
	"encoding/base64"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"net"
	"net/http"
	"net/netip"
	"strconv"
	"strings"
	"syscall"
	"time"

	"brinebell/detect"
	"brinebell/detect/care"
)

// event is what a webhook is sent: a CloudEvent by version 1.0.2 of the
// specification, in structured mode.
type event struct {
	SpecVersion     string    `json:"specversion"`
	ID              string    `json:"id"`
	Source          string    `json:"source"`
	Type            string    `json:"type"`
	Subject         string    `json:"subject,omitempty"`
	Time            time.Time `json:"time"`
	DataContentType string    `json:"datacontenttype"`
	Data            any       `json:"data"`
}

// eventData is the data of an event about a case.
type eventData struct {
	Home  string        `json:"home"`
	Case  eventCase     `json:"case"`
	Step  eventStep     `json:"step"`
	Alert *detect.Alert `json:"alert"`
	Link  string        `json:"link,omitempty"`
}

type eventCase struct {
	ID       string          `json:"id"`
	Stage    care.Stage      `json:"stage"`
	Severity detect.Severity `json:"severity"`
	Kind     detect.Kind     `json:"kind"`
	Cause    detect.Cause    `json:"cause,omitempty"`
	Version  int64           `json:"version"`
	PerDay   float64         `json:"waiting_costs_per_day"`
	Currency string          `json:"currency"`
}

type eventStep struct {
	Number int64     `json:"number"`
	Act    care.Act  `json:"act"`
	At     time.Time `json:"at"`
	Alert  string    `json:"alert,omitempty"`
	Text   string    `json:"text,omitempty"`
}

// event is a step for programs.
func (t *Teller) event(x told) event {
	d := eventData{Home: x.c.Home, Link: t.linkTo(x),
		Case: eventCase{x.c.ID, x.c.Stage, x.c.Severity, x.c.Kind, x.c.Cause, x.c.Version, x.c.Loss.PerDay, x.c.Loss.Currency},
		Step: eventStep{x.step.Seq, x.step.Act, x.step.At, x.step.Alert, x.step.Text}}
	if x.alert.ID != "" {
		d.Alert = &x.alert
	}
	return event{Type: "brinebell.case." + string(x.step.Act), Subject: "homes/" + x.c.Home + "/cases/" + x.c.ID, Time: x.step.At, Data: d, Source: t.source()}
}

// source names this installation in events.
func (t *Teller) source() string {
	if t.opts.BaseURL == "" {
		return "/brinebell"
	}
	return t.opts.BaseURL
}

// webhook posts events.
type webhook struct{ client *http.Client }

// The bounds of a webhook.
const (
	dialTime  = 10 * time.Second
	maxAnswer = 4 << 10 // of an answer that is read at all, so that the connection can be used again
)

func newWebhook(o Options) webhook {
	d := &net.Dialer{Timeout: dialTime}
	if !o.Private {
		d.Control = onlyPublic
	}
	return webhook{&http.Client{
		Transport: &http.Transport{DialContext: d.DialContext, TLSClientConfig: o.Webhooks, TLSHandshakeTimeout: dialTime, ForceAttemptHTTP2: true,
			MaxIdleConnsPerHost: 1, IdleConnTimeout: time.Minute},
		CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse },
	}}
}

var errPrivate = errors.New("the address is not public; the installation can allow that")

// onlyPublic keeps webhooks from knocking at the machine's own network. It looks
// at the address that is dialled, so that no name can be changed in between.
func onlyPublic(_, address string, _ syscall.RawConn) error {
	a, err := netip.ParseAddrPort(address)
	if err != nil {
		return err
	}
	ip := a.Addr().Unmap()
	if !ip.IsGlobalUnicast() || ip.IsPrivate() || shared.Contains(ip) {
		return errPrivate
	}
	return nil
}

// shared is the address space of carriers (RFC 6598).
var shared = netip.MustParsePrefix("100.64.0.0/10")

func (w webhook) send(ctx context.Context, c care.Channel, l letter) error {
	e := l.items[0].event
	e.SpecVersion, e.ID, e.DataContentType = "1.0", l.id, "application/json"
	if e.Time.IsZero() {
		e.Time, e.Source = l.at, "/brinebell"
	}
	body, err := json.Marshal(e)
	if err != nil {
		return err
	}
	r, err := http.NewRequestWithContext(ctx, http.MethodPost, c.Target, bytes.NewReader(body))
	if err != nil {
		return fmt.Errorf("%w: the address cannot be read", errRefused)
	}
	r.Header.Set("Content-Type", "application/cloudevents+json; charset=utf-8")
	r.Header.Set("User-Agent", "brinebell")
	sign(r.Header, c.Secret, l.id, time.Now(), body)
	answer, err := w.client.Do(r)
	if err != nil {
		return fmt.Errorf("webhook: %s", withoutURL(err))
	}
	defer answer.Body.Close()
	_, _ = io.CopyN(io.Discard, answer.Body, maxAnswer) // an answer's text is of no interest
	switch {
	case answer.StatusCode/100 == 2:
		return nil
	case answer.StatusCode == http.StatusGone:
		return fmt.Errorf("%w: the receiver answered %s", errRefused, answer.Status)
	}
	return fmt.Errorf("webhook: the receiver answered %d", answer.StatusCode)
}

// withoutURL is the cause of a failed request. An address may hold a secret.
func withoutURL(err error) string {
	var dns *net.DNSError
	var op *net.OpError
	switch {
	case errors.Is(err, errPrivate):
		return errPrivate.Error()
	case errors.Is(err, context.DeadlineExceeded):
		return "no answer in time"
	case errors.As(err, &dns):
		return "the name is not known"
	case errors.As(err, &op):
		return "no connection (" + op.Op + ")"
	}
	return "no valid answer"
}

// sign signs a body by the Standard Webhooks specification 1.0.0: HMAC-SHA256
// over id, time and body, each after a full stop. A secret that begins with
// whsec_ is in base64.
func sign(h http.Header, secret, id string, at time.Time, body []byte) {
	stamp := strconv.FormatInt(at.Unix(), 10)
	h.Set("Webhook-Id", id)
	h.Set("Webhook-Timestamp", stamp)
	if secret == "" {
		return
	}
	mac := hmac.New(sha256.New, key(secret))
	mac.Write([]byte(id + "." + stamp + "."))
	mac.Write(body)
	h.Set("Webhook-Signature", "v1,"+base64.StdEncoding.EncodeToString(mac.Sum(nil)))
}

func key(secret string) []byte {
	if encoded, ok := strings.CutPrefix(secret, "whsec_"); ok {
		if b, err := base64.StdEncoding.DecodeString(encoded); err == nil {
			return b
		}
	}
	return []byte(secret)
}
