package intake

import (
	"context"
	"errors"
	"fmt"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"github.com/prometheus/client_golang/prometheus"
	"github.com/prometheus/client_golang/prometheus/testutil"
	"go.uber.org/goleak"

	"brinebell/collector/adapter"
	"brinebell/collector/series"
	"brinebell/detect"
)

func TestMain(m *testing.M) { goleak.VerifyTestMain(m) }

// rig is an intake with fakes round it.
type rig struct {
	t        *testing.T
	store    *fakeStore
	judge    *fakeJudge
	intake   *Intake
	registry *prometheus.Registry
	stop     context.CancelFunc
	ended    chan error
}

func newRig(t *testing.T, change func(*Options)) *rig {
	t.Helper()
	tank, err := adapter.New(adapter.Config{Topic: "tanks/{home}", Signal: "brine_level", Unit: "cm"})
	if err != nil {
		t.Fatal(err)
	}
	r := &rig{t: t, store: &fakeStore{}, registry: prometheus.NewPedanticRegistry(), ended: make(chan error, 1)}
	r.judge = &fakeJudge{store: r.store}
	opts := Options{Store: r.store, Judge: r.judge, Known: func(id string) bool { return id == "a" || id == "b" },
		Clock: func() time.Time { return noon }, Adapters: []*adapter.Adapter{tank}, Registerer: r.registry}
	if change != nil {
		change(&opts)
	}
	if r.intake, err = New(opts); err != nil {
		t.Fatal(err)
	}
	return r
}

func (r *rig) start() {
	ctx, cancel := context.WithCancel(context.Background())
	r.stop = cancel
	go func() { r.ended <- r.intake.Run(ctx) }()
}

func (r *rig) finish() {
	r.t.Helper()
	r.stop()
	if err := <-r.ended; err != nil {
		r.t.Error(err)
	}
}

// offer hands a message in and returns where its outcome will come.
func (r *rig) offer(topic, payload string) <-chan error {
	r.t.Helper()
	done := make(chan error, 2)
	if err := r.intake.Offer(context.Background(), Message{Topic: topic, Payload: []byte(payload), Done: func(err error) { done <- err }}); err != nil {
		r.t.Fatal(err)
	}
	return done
}

func pack(home, signal, unit string, at time.Time, value float64) string {
	return fmt.Sprintf(`[{"bn":"%s/d/","n":"%s","u":"%s","t":%.4f,"v":%g}]`, home, signal, unit, float64(at.UnixMicro())/1e6, value)
}

func TestEveryOutcome(t *testing.T) {
	r := newRig(t, nil)
	r.store.reject = func(x detect.Reading) error {
		return map[float64]error{77: series.ErrTooOld, 78: series.ErrConflict}[x.Value]
	}
	r.start()
	for _, m := range []struct{ topic, payload string }{
		{"homes/a/sensors/d", pack("a", "battery", "%EL", noon.Add(1234567*time.Nanosecond), 50)},
		{"homes/a/sensors/d", pack("b", "battery", "%EL", noon, 50)},
		{"homes/c/sensors/d", pack("c", "battery", "%EL", noon, 50)},
		{"homes/a/sensors/d", pack("a", "battery", "%EL", noon.Add(25*time.Hour), 50)},
		{"homes/a/sensors/d", pack("a", "battery", "%EL", noon.Add(23*time.Hour), 51)},
		{"homes/a/sensors/d", pack("a", "battery", "V", noon, 50)},
		{"homes/a/sensors/d", "\x00\x01"},
		{"homes/a/sensors/d", pack("a", "battery", "%EL", noon, 77)},
		{"homes/a/sensors/d", pack("a", "battery", "%EL", noon, 78)},
		{"homes/a/sensors/d/e", pack("a", "battery", "%EL", noon, 50)},
		{"tanks/b", "21.5"},
		{"tanks/b", "high"},
	} {
		if err := <-r.offer(m.topic, m.payload); err != nil {
			t.Errorf("%v: %v", m, err)
		}
	}
	r.finish()
	want := []detect.Reading{
		{Home: "a", Signal: detect.Battery, Time: noon.Add(time.Millisecond), Value: 50},
		{Home: "a", Signal: detect.Battery, Time: noon.Add(23 * time.Hour), Value: 51},
		{Home: "b", Signal: detect.BrineLevel, Time: noon, Value: 215},
	}
	if fmt.Sprint(r.judge.judged) != fmt.Sprint(want) || r.judge.early > 0 {
		t.Errorf("judged %v, %d before they were stored; want %v", r.judge.judged, r.judge.early, want)
	}
	if err := testutil.GatherAndCompare(r.registry, strings.NewReader(`
# HELP brinebell_messages_total Messages taken in, by outcome: committed, partly (some records were not used) or quarantined.
# TYPE brinebell_messages_total counter
brinebell_messages_total{outcome="committed"} 3
brinebell_messages_total{outcome="partly"} 0
brinebell_messages_total{outcome="quarantined"} 9
# HELP brinebell_readings_total Readings and unusable records, by outcome: stored, or the reason why not.
# TYPE brinebell_readings_total counter
brinebell_readings_total{outcome="bad_payload"} 2
brinebell_readings_total{outcome="bad_unit"} 1
brinebell_readings_total{outcome="conflict"} 1
brinebell_readings_total{outcome="future"} 1
brinebell_readings_total{outcome="implausible"} 0
brinebell_readings_total{outcome="not_allowed"} 0
brinebell_readings_total{outcome="stored"} 3
brinebell_readings_total{outcome="refused"} 0
brinebell_readings_total{outcome="too_old"} 1
brinebell_readings_total{outcome="unknown_home"} 1
brinebell_readings_total{outcome="unknown_topic"} 1
brinebell_readings_total{outcome="wrong_home"} 1
`), "brinebell_messages_total", "brinebell_readings_total"); err != nil {
		t.Error(err)
	}
	if problems, err := testutil.GatherAndLint(r.registry); err != nil || len(problems) > 0 {
		t.Errorf("metric names: %v %v", problems, err)
	}
	if q := r.intake.Quarantine(); len(q) != 9 {
		t.Errorf("%d in quarantine, want 9: %+v", len(q), q)
	}
}

func TestPartlyUsableMessage(t *testing.T) {
	r := newRig(t, nil)
	r.start()
	if err := <-r.offer("homes/a/sensors/d", `[{"bn":"a/d/","n":"battery","u":"%EL","v":5},{"n":"battery","v":"x"}]`); err != nil {
		t.Fatal(err)
	}
	r.finish()
	if len(r.judge.judged) != 1 || testutil.ToFloat64(r.intake.metrics.messages.WithLabelValues("partly")) != 1 {
		t.Errorf("judged %v", r.judge.judged)
	}
}

// TestWaitingMessagesAreOneBatch holds the store up while messages gather.
func TestWaitingMessagesAreOneBatch(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		r := newRig(t, func(o *Options) { o.Batch = 50 })
		r.store.gate = make(chan struct{})
		r.start()
		var done []<-chan error
		for i := range 121 {
			done = append(done, r.offer("homes/a/sensors/d", pack("a", "battery", "%EL", noon, float64(i))))
			if i == 0 {
				synctest.Wait() // the first is being stored, the others wait
			}
		}
		close(r.store.gate)
		for _, d := range done {
			if err := <-d; err != nil {
				t.Error(err)
			}
		}
		r.finish()
		var sizes []int
		for _, b := range r.store.batches() {
			sizes = append(sizes, len(b))
		}
		if fmt.Sprint(sizes) != "[1 50 50 20]" {
			t.Errorf("batches of %v", sizes)
		}
		for i, x := range r.judge.judged {
			if x.Value != float64(i) {
				t.Fatalf("reading %d is %v: out of order", i, x)
			}
		}
	})
}

func TestGatherWaitsForMore(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		r := newRig(t, func(o *Options) { o.Gather = 5 * time.Millisecond })
		r.start()
		began := time.Now()
		a := r.offer("homes/a/sensors/d", pack("a", "battery", "%EL", noon, 1))
		time.Sleep(2 * time.Millisecond) // of the bubble's time
		b := r.offer("homes/a/sensors/d", pack("a", "battery", "%EL", noon, 2))
		<-a
		<-b
		if took := time.Since(began); took != 5*time.Millisecond || len(r.store.batches()) != 1 {
			t.Errorf("%d batches after %v, want one after 5 ms", len(r.store.batches()), took)
		}
		r.finish()
	})
}

func TestStoreThatRefusesIsTriedAgain(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		r := newRig(t, nil)
		r.store.refuse = attempts - 1
		r.start()
		if err := <-r.offer("homes/a/sensors/d", pack("a", "battery", "%EL", noon, 1)); err != nil {
			t.Errorf("%v after the store recovered", err)
		}
		r.store.refuse = attempts
		if err := <-r.offer("homes/a/sensors/d", pack("a", "battery", "%EL", noon, 2)); !errors.Is(err, errRefused) {
			t.Errorf("%v, want the message given back", err)
		}
		if len(r.judge.judged) != 1 {
			t.Errorf("judged %v, want only what was stored", r.judge.judged)
		}
		r.judge.fail = errors.New("cannot note it")
		if err := <-r.offer("homes/a/sensors/d", pack("a", "battery", "%EL", noon, 3)); !errors.Is(err, r.judge.fail) {
			t.Errorf("%v, want the message given back when it cannot be judged", err)
		}
		r.finish()
	})
}

func TestStopCommitsWhatWaitsAndRefusesTheRest(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		r := newRig(t, func(o *Options) { o.Queue = 3 })
		r.store.gate = make(chan struct{})
		r.start()
		var done []<-chan error
		for i := range 4 {
			done = append(done, r.offer("homes/a/sensors/d", pack("a", "battery", "%EL", noon, float64(i))))
			synctest.Wait()
		}
		full, cancel := context.WithTimeout(context.Background(), time.Second)
		defer cancel()
		if err := r.intake.Offer(full, Message{}); !errors.Is(err, context.DeadlineExceeded) {
			t.Errorf("%v, want a full queue to make the sender wait", err)
		}
		r.stop()
		close(r.store.gate)
		for _, d := range done {
			if err := <-d; err != nil {
				t.Errorf("%v for what had been taken in", err)
			}
		}
		r.await()
		if err := r.intake.Offer(context.Background(), Message{}); !errors.Is(err, ErrStopped) {
			t.Errorf("%v after the end", err)
		}
	})
}

// await waits for the end after stop was called.
func (r *rig) await() {
	r.t.Helper()
	if err := <-r.ended; err != nil {
		r.t.Error(err)
	}
}

func TestQuarantineIsBounded(t *testing.T) {
	q := quarantine{size: 3, bytes: 4, entries: map[quarantineKey]*Quarantined{}}
	for i := range 10 {
		q.add(&Message{Topic: "noisy", Payload: []byte("payload")}, fault{BadPayload, fmt.Sprint(i)}, noon.Add(time.Duration(i)*time.Second))
	}
	q.add(&Message{Topic: "noisy", Payload: []byte("p")}, fault{UnknownHome, "x"}, noon.Add(time.Minute))
	q.add(&Message{Topic: "b"}, fault{BadPayload, "x"}, noon.Add(2*time.Minute))
	got := q.list()
	if len(got) != 3 || got[2].Count != 10 || got[2].Detail != "9" || string(got[2].Payload) != "payl" || got[2].Topic != "nois" || !got[2].First.Equal(noon) {
		t.Errorf("%+v", got)
	}
	q.add(&Message{Topic: "c"}, fault{BadPayload, "x"}, noon.Add(3*time.Minute))
	if got := q.list(); len(got) != 3 || got[0].Topic != "c" || got[2].Reason != UnknownHome {
		t.Errorf("%+v, want the one silent longest forgotten", got)
	}
}

func TestFiltersAndWants(t *testing.T) {
	a, err := adapter.New(adapter.Config{Topic: "tanks/{home}/+", Signal: "brine_level"})
	if err != nil {
		t.Fatal(err)
	}
	if got := Filters([]*adapter.Adapter{a, a}); fmt.Sprint(got) != "[homes/+/sensors/+ tanks/+/+]" {
		t.Errorf("filters %v", got)
	}
	for topic, want := range map[string]bool{"homes/a/sensors/d": true, "tanks/a/x": true, "tanks/a": false, "homes//sensors/d": false,
		"homes/a/sensors/": false, "homes/a/sensor/d": false, "x": false} {
		if got := Wants([]*adapter.Adapter{a}, topic); got != want {
			t.Errorf("wants %q: %v", topic, got)
		}
	}
}

func TestOptionsAreChecked(t *testing.T) {
	if _, err := New(Options{}); err == nil {
		t.Error("an intake without a store")
	}
}

// TestRefusalsAreReported as a link does, beside the worker.
func TestRefusalsAreReported(t *testing.T) {
	in, err := New(Options{Store: &fakeStore{}, Judge: &fakeJudge{}, Known: func(string) bool { return true }, Clock: time.Now})
	if err != nil {
		t.Fatal(err)
	}
	for range 3 {
		in.Refused("homes/quay-1/sensors/meter", "mill-1/meter may not publish here")
	}
	if q := in.Quarantine(); len(q) != 1 || q[0].Reason != NotAllowed || q[0].Count != 3 || q[0].Topic != "homes/quay-1/sensors/meter" {
		t.Errorf("%+v", q)
	}
}
