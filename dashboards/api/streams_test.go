package api

import (
	"bufio"
	"context"
	"net/http"
	"net/http/httptest"
	"slices"
	"strings"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"github.com/danielgtaylor/huma/v2/sse"

	"brinebell/dashboards/access"
	"brinebell/detect"
)

// listener keeps what a stream sends.
type listener struct {
	mu   sync.Mutex
	kept []any // guarded by mu
}

// got is what has come so far.
func (l *listener) got() []any {
	l.mu.Lock()
	defer l.mu.Unlock()
	return slices.Clone(l.kept)
}

func (l *listener) last() any {
	all := l.got()
	return all[len(all)-1]
}

func (l *listener) send() sse.Sender {
	return func(m sse.Message) error {
		l.mu.Lock()
		defer l.mu.Unlock()
		l.kept = append(l.kept, m.Data)
		return nil
	}
}

func (l *listener) alerts() (ids []string) {
	for _, v := range l.got() {
		if a, ok := v.(alertView); ok {
			ids = append(ids, a.Alert)
		}
	}
	return ids
}

// TestLiveAlerts raises and ends alerts at own and foreign homes.
func TestLiveAlerts(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		a, town := newAPI(t)
		town.changes = make(chan struct{}, 1) // of this bubble
		ctx, cancel := context.WithCancel(town.as("house"))
		l := &listener{}
		ended := make(chan struct{})
		go func() { defer close(ended); a.liveAlerts(ctx, nil, l.send()) }()
		synctest.Wait()
		change := func(do func()) {
			do()
			town.changes <- struct{}{}
			synctest.Wait()
		}
		change(func() {
			for _, home := range []string{"mill-1", "mill-2", "quay-1"} {
				town.alerts = append(town.alerts, detect.Alert{ID: "new-" + home, Home: home, Kind: detect.Burst, Severity: detect.ActNow, Onset: noon, Raised: noon})
			}
		})
		change(func() {}) // nothing new
		change(func() {
			for i := range town.alerts {
				if town.alerts[i].Home == "mill-1" {
					town.alerts[i].Cleared = noon.Add(time.Hour)
				}
			}
		})
		if got := strings.Join(l.alerts(), " "); got != "alert-mill-1 new-mill-1 alert-mill-1 new-mill-1" {
			t.Error(got)
		}
		if last := l.last().(alertView); last.Cleared == nil {
			t.Error("its end is not told")
		}
		before := len(l.got())
		time.Sleep(beatEvery + time.Second) // of the bubble's clock
		synctest.Wait()
		if _, ok := l.got()[before].(beat); !ok {
			t.Error("a quiet stream does not say that it is there")
		}
		cancel()
		<-ended
	})
}

// TestStreamsEnd by themselves, and when the service stops.
func TestStreamsEnd(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		a, town := newAPI(t)
		town.changes = make(chan struct{}, 1)
		began := time.Now()
		a.liveAlerts(town.as("house"), nil, (&listener{}).send())
		if took := time.Since(began); took != streamTime {
			t.Errorf("after %v", took)
		}
		go func() { time.Sleep(time.Minute); a.Close() }()
		began = time.Now()
		a.liveAlerts(town.as("house"), nil, (&listener{}).send())
		if took := time.Since(began); took != time.Minute {
			t.Errorf("stopped after %v", took)
		}
	})
}

// TestOpenATap follows a check: silent, heard, moved.
func TestOpenATap(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		a, town := newAPI(t)
		ctx, cancel := context.WithCancel(town.as("tech"))
		l := &listener{}
		ended := make(chan struct{})
		go func() { defer close(ended); a.sensorCheck(ctx, &HomePath{"mill-1"}, l.send()) }()
		states := func() string {
			synctest.Wait()
			var out []string
			for _, s := range l.last().(checkView).Sensors {
				out = append(out, s.Signal+" "+s.State)
			}
			return strings.Join(out, ", ")
		}
		if got := states(); got != "inlet_volume silent, brine_level silent" {
			t.Error(got)
		}
		for _, step := range []struct {
			signal detect.Signal
			value  float64
			want   string
		}{
			{detect.InletVolume, 1000, "inlet_volume heard, brine_level silent"},
			{detect.InletVolume, 1002, "inlet_volume moved, brine_level silent"},
			{detect.InletVolume, 1002, "inlet_volume moved, brine_level silent"},
			{detect.DrainFlow, 4, "inlet_volume moved, drain_flow moved, brine_level silent"}, // never heard before
			{detect.BrineLevel, 200, "inlet_volume moved, drain_flow moved, brine_level heard"},
		} {
			town.mu.Lock()
			town.latest[step.signal] = Value{noon.Add(time.Duration(len(l.got())+1) * time.Minute), step.value}
			town.mu.Unlock()
			time.Sleep(2 * checkEvery)
			if got := states(); got != step.want {
				t.Errorf("%s, want %s", got, step.want)
			}
		}
		time.Sleep(checkTime)
		<-ended
		if !l.last().(checkView).Done {
			t.Error("it does not say that it is over")
		}
		cancel()
	})
}

// TestStreamsOverHTTP asks as each role, at own and foreign homes; what is
// foreign is refused in the same words as what does not exist.
func TestStreamsOverHTTP(t *testing.T) {
	a, town := newAPI(t)
	first := func(who, path string) string {
		server := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
			p, _ := town.Person(r.Context(), who)
			a.Handler().ServeHTTP(w, r.WithContext(access.With(r.Context(), p)))
		}))
		defer server.Close()
		ctx, cancel := context.WithCancel(context.Background())
		defer cancel()
		r, err := http.NewRequestWithContext(ctx, http.MethodGet, server.URL+Prefix+path, nil)
		if err != nil {
			t.Fatal(err)
		}
		res, err := server.Client().Do(r)
		if err != nil {
			t.Fatal(err)
		}
		defer res.Body.Close()
		if kind := res.Header.Get("Content-Type"); kind != "text/event-stream" {
			t.Errorf("%s: %s", path, kind)
		}
		in := bufio.NewScanner(res.Body)
		in.Scan()
		event := in.Text()
		in.Scan()
		return event + " " + in.Text()
	}
	for _, who := range []string{"house", "tech", "boss"} {
		if got := first(who, "/homes/mill-1/sensor-check"); !strings.HasPrefix(got, "event: check") {
			t.Errorf("%s at home: %s", who, got)
		}
		foreign, absent := first(who, "/homes/quay-1/sensor-check"), first(who, "/homes/nowhere/sensor-check")
		if foreign != absent || !strings.Contains(foreign, `"status":404`) {
			t.Errorf("%s: %s, %s", who, foreign, absent)
		}
	}
	if got := first("op", "/homes/quay-1/sensor-check"); !strings.HasPrefix(got, "event: check") {
		t.Errorf("an operator sets sensors up: %s", got)
	}
	if got := first("house", "/alerts/live"); !strings.HasPrefix(got, "event: beat") {
		t.Error(got)
	}
	l := &listener{}
	a.liveAlerts(access.With(context.Background(), town.people["op"]), nil, l.send())
	if len(l.alerts()) != 0 {
		t.Error("an operator hears of alerts")
	}
}
