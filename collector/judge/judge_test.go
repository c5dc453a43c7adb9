package judge

import (
	"context"
	"errors"
	"fmt"
	"math/rand/v2"
	"path/filepath"
	"reflect"
	"sync/atomic"
	"testing"
	"time"

	"go.uber.org/goleak"

	"brinebell/collector/series"
	"brinebell/collector/state"
	"brinebell/detect"
	"brinebell/detect/books"
	"brinebell/detect/regeneration"
)

func TestMain(m *testing.M) { goleak.VerifyTestMain(m) }

var noon = time.Date(2026, 3, 1, 12, 0, 0, 0, time.UTC)

// dying is a state store that forgets all that is written after its death, as
// that of a process that was killed.
type dying struct {
	State
	dead atomic.Bool
}

var errDead = errors.New("the process is dead")

func (d *dying) Save(ctx context.Context, p state.Progress) ([]detect.Alert, error) {
	if d.dead.Load() {
		return nil, errDead
	}
	return d.State.Save(ctx, p)
}

func (d *dying) WantRerun(ctx context.Context, home string, since time.Time) error {
	if d.dead.Load() {
		return errDead
	}
	return d.State.WantRerun(ctx, home, since)
}

// bench is the stores of a collector and its present judge.
type bench struct {
	t      *testing.T
	store  *series.TSDB
	state  *state.DB
	dying  *dying
	judge  *Judge
	stop   context.CancelFunc
	ended  chan error
	homes  []detect.Home
	engine func(detect.Home) Engine
	told   atomic.Int64 // alerts that Changed was told of
}

func newBench(t *testing.T, homes int) *bench {
	t.Helper()
	b := &bench{t: t, engine: newFake}
	var err error
	if b.store, err = series.Open(series.Options{Dir: t.TempDir(), NoSync: true}); err != nil {
		t.Fatal(err)
	}
	if b.state, err = state.Open(context.Background(), filepath.Join(t.TempDir(), "state.db"), nil); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := errors.Join(b.store.Close(), b.state.Close()); err != nil {
			t.Error(err)
		}
	})
	for i := range homes {
		h := detect.DefaultHome(fmt.Sprintf("home-%d", i), time.UTC)
		h.Meters = detect.Meters{Inlet: &detect.Meter{Pulse: 1}, Drain: &detect.Meter{Pulse: 0.1}}
		b.homes = append(b.homes, h)
	}
	return b
}

// start starts a judge and waits until every home has caught up.
func (b *bench) start() {
	b.t.Helper()
	b.startAsleep(b.store)
	b.wake()
}

// startAsleep starts a judge and waits until it takes readings.
func (b *bench) startAsleep(store series.Store) { b.t.Helper(); b.startWith(store, b.state) }

func (b *bench) startWith(store series.Store, state State) {
	b.t.Helper()
	b.dying = &dying{State: state}
	var err error
	b.judge, err = New(Options{Homes: b.homes, Store: store, State: b.dying, NewEngine: b.engine, Shards: 2, RerunPause: time.Hour,
		Changed: func(alerts []detect.Alert) { b.told.Add(int64(len(alerts))) }})
	if err != nil {
		b.t.Fatal(err)
	}
	ctx, cancel := context.WithCancel(context.Background())
	b.stop, b.ended = cancel, make(chan error, 1)
	go func() { b.ended <- b.judge.Run(ctx) }()
	select {
	case <-b.judge.Ready():
	case err := <-b.ended:
		b.t.Fatal(err)
	}
}

// wake waits until every home has caught up.
func (b *bench) wake() { <-b.judge.CaughtUp() }

func (b *bench) finish() {
	b.t.Helper()
	b.stop()
	if err := <-b.ended; err != nil {
		b.t.Fatal(err)
	}
}

func (b *bench) kill() {
	_ = b.judge.eachShard(func(*shard) error { b.dying.dead.Store(true); return nil }) // between two batches
	b.stop()
	<-b.ended
}

// take is what the intake does.
func (b *bench) take(readings ...detect.Reading) {
	b.t.Helper()
	if _, err := b.store.Append(context.Background(), readings); err != nil {
		b.t.Fatal(err)
	}
	if err := b.judge.Observe(context.Background(), readings); err != nil {
		b.t.Fatal(err)
	}
}

// rerunAll re-runs every home that has late readings, without the pause.
func (b *bench) rerunAll() {
	_ = b.judge.atEachShard(func(s *shard) error {
		s.rerunDue(context.Background(), time.Now().Add(24*time.Hour))
		return nil
	})
}

// alerts are those that stand, without the time of their saving.
func (b *bench) alerts() (standing []detect.Alert, withdrawn int) {
	b.t.Helper()
	all, err := b.state.Alerts(context.Background(), "")
	if err != nil {
		b.t.Fatal(err)
	}
	for _, a := range all {
		if a.Withdrawn.IsZero() {
			standing = append(standing, a.Alert)
		} else {
			withdrawn++
		}
	}
	return standing, withdrawn
}

// booked is a regeneration with its entry.
type booked struct {
	record regeneration.Record
	entry  books.Entry
}

func (b *bench) records(home string) (out []booked) {
	b.t.Helper()
	records, err := b.state.Regenerations(context.Background(), home, time.Time{}, farFuture)
	if err != nil {
		b.t.Fatal(err)
	}
	for _, r := range records {
		out = append(out, booked{r.Record, *r.Entry})
	}
	return out
}

// scenario is some days of each home, in order of time.
func scenario(homes []detect.Home, random *rand.Rand) (out []detect.Reading) {
	for i := range 600 {
		for _, h := range homes {
			value := float64(random.IntN(20))
			switch random.IntN(60) {
			case 0:
				value = 100
			case 1:
				value = 50
			}
			out = append(out, detect.Reading{Home: h.ID, Signal: detect.InletFlow, Time: noon.Add(time.Duration(i) * 5 * time.Minute), Value: value})
		}
	}
	return out
}

// TestWhateverTheArrival holds the outcome of readings that come late, out of
// order and twice, to a judge that is stopped and killed meanwhile, against
// that of the same readings in order.
func TestWhateverTheArrival(t *testing.T) {
	for seed := range uint64(6) {
		t.Run(fmt.Sprint(seed), func(t *testing.T) {
			random := rand.New(rand.NewPCG(seed, 1))
			whatever(t, newFake, 5, random, func(homes []detect.Home) []detect.Reading { return scenario(homes, random) })
		})
	}
}

// TestWhateverTheArrivalWithTheRealEngine is the same for readings of a drain
// that runs for some hours, each with the others.
func TestWhateverTheArrivalWithTheRealEngine(t *testing.T) {
	for seed := range uint64(2) {
		t.Run(fmt.Sprint(seed), func(t *testing.T) {
			random := rand.New(rand.NewPCG(seed, 2))
			whatever(t, nil, 3, random, runningDrains)
		})
	}
}

// runningDrains is two days of homes of which each drain runs for six hours.
func runningDrains(homes []detect.Home) (out []detect.Reading) {
	for minute := range 2 * 24 * 60 {
		for i, h := range homes {
			at := noon.Add(time.Duration(minute) * time.Minute)
			drain := 0.0
			if since := minute - 600*(i+1); since >= 0 && since < 360 {
				drain = 1.5
			}
			out = append(out, detect.Reading{Home: h.ID, Signal: detect.DrainFlow, Time: at, Value: drain},
				detect.Reading{Home: h.ID, Signal: detect.InletVolume, Time: at, Value: float64(minute/7 + minute/60*20)})
		}
	}
	return out
}

func whatever(t *testing.T, engine func(detect.Home) Engine, least int, random *rand.Rand, make func([]detect.Home) []detect.Reading) {
	t.Helper()
	ordered := newBench(t, 3)
	ordered.engine = engine
	readings := make(ordered.homes)
	ordered.start()
	for i := 0; i < len(readings); i += 50 {
		ordered.take(readings[i:min(i+50, len(readings))]...)
	}
	ordered.finish()

	b := newBench(t, 3)
	b.engine = engine
	b.start()
	for _, batch := range arrivals(readings, random) {
		b.take(batch...)
		switch random.IntN(8) {
		case 0:
			b.finish()
			b.startAsleep(b.store) // and is given the next ones at once
		case 1:
			b.kill()
			b.startAsleep(b.store)
		case 2:
			b.rerunAll()
		}
	}
	b.wake()
	b.rerunAll()
	b.finish()
	want, none := ordered.alerts()
	got, _ := b.alerts()
	if len(want) < least || none != 0 {
		t.Fatalf("the scenario has %d alerts and %d withdrawn", len(want), none)
	}
	if !reflect.DeepEqual(got, want) {
		t.Errorf("alerts differ:\n%v\nwant\n%v", got, want)
	}
	for _, h := range b.homes {
		if got, want := b.records(h.ID), ordered.records(h.ID); fmt.Sprint(got) != fmt.Sprint(want) {
			t.Errorf("regenerations of %s differ:\n%v\nwant\n%v", h.ID, got, want)
		}
	}
}

// arrivals cuts readings into batches of which some come much later, and some
// twice.
func arrivals(readings []detect.Reading, random *rand.Rand) (batches [][]detect.Reading) {
	type arrival struct {
		batch []detect.Reading
		at    float64
	}
	var all []arrival
	size := max(40, len(readings)/60)
	for i := 0; i < len(readings); i += size {
		batch := append([]detect.Reading(nil), readings[i:min(i+size, len(readings))]...)
		random.Shuffle(len(batch), func(i, j int) { batch[i], batch[j] = batch[j], batch[i] })
		at := float64(i)
		switch random.IntN(6) {
		case 0:
			at += random.Float64() * float64(len(readings)) / 2
		case 1:
			all = append(all, arrival{batch, at + random.Float64()*500})
		}
		all = append(all, arrival{batch, at})
	}
	for len(all) > 0 {
		first := 0
		for i := range all {
			if all[i].at < all[first].at {
				first = i
			}
		}
		batches = append(batches, all[first].batch)
		all = append(all[:first], all[first+1:]...)
	}
	return batches
}

func flow(minutes int, value float64) detect.Reading {
	return detect.Reading{Home: "home-0", Signal: detect.InletFlow, Time: noon.Add(time.Duration(minutes) * time.Minute), Value: value}
}

func TestLateReadingWithdrawsAnAlert(t *testing.T) {
	b := newBench(t, 1)
	b.start()
	b.take(flow(0, 1), flow(30, 120), flow(60, 120), flow(90, 1), flow(120, 1))
	if standing, _ := b.alerts(); len(standing) != 1 || standing[0].Onset != flow(30, 0).Time {
		t.Fatalf("%v", standing)
	}
	b.take(flow(20, 130)) // late: the onset was earlier
	b.rerunAll()
	standing, withdrawn := b.alerts()
	if len(standing) != 1 || withdrawn != 1 || standing[0].Onset != flow(20, 0).Time {
		t.Errorf("%v and %d withdrawn, want one earlier alert and one withdrawn", standing, withdrawn)
	}
	b.finish()
}

func TestLateReadingIsNotForgottenByAKill(t *testing.T) {
	b := newBench(t, 1)
	b.start()
	b.take(flow(0, 1), flow(30, 120), flow(24*60, 1), flow(25*60, 1), flow(48*60, 1))
	b.take(flow(20, 130))
	b.kill()
	b.start()
	if standing, withdrawn := b.alerts(); len(standing) != 1 || withdrawn != 1 || standing[0].Onset != flow(20, 0).Time {
		t.Errorf("%v and %d withdrawn after the restart", standing, withdrawn)
	}
	b.finish()
}

func TestObserveFailsWhenLatenessCannotBeNoted(t *testing.T) {
	b := newBench(t, 1)
	b.start()
	b.take(flow(0, 1), flow(60, 1))
	b.dying.dead.Store(true)
	if err := b.judge.Observe(context.Background(), []detect.Reading{flow(5, 1)}); !errors.Is(err, errDead) {
		t.Errorf("%v, want the late reading refused", err)
	}
	if err := b.judge.Observe(context.Background(), []detect.Reading{flow(70, 1)}); err == nil {
		t.Log("a reading in time is taken all the same")
	}
	b.kill()
	if err := b.judge.Observe(context.Background(), nil); err != nil && !errors.Is(err, ErrStopped) {
		t.Error(err)
	}
}

func TestUnknownHomeAndOptions(t *testing.T) {
	b := newBench(t, 1)
	b.start()
	b.take(detect.Reading{Home: "nobody", Time: noon})
	b.finish()
	if _, err := New(Options{}); err == nil {
		t.Error("a judge without stores")
	}
}

// refusing is an engine whose snapshots cannot be used, as those of another
// version.
type refusing struct{ *fakeEngine }

func (refusing) Restore(string, []byte) error { return errors.New("another version") }

func TestUnusableSnapshots(t *testing.T) {
	b := newBench(t, 1)
	b.start()
	for i := range 50 {
		b.take(flow(i*60, float64(100*(i%2))))
	}
	before, _ := b.alerts()
	b.finish()
	told := b.told.Load()
	b.engine = func(h detect.Home) Engine { return refusing{&fakeEngine{home: h.ID}} }
	b.start()
	after, withdrawn := b.alerts()
	if b.told.Load() != told {
		t.Errorf("told of %d alerts again after the restart", b.told.Load()-told)
	}
	if len(before) < 20 || withdrawn != 0 || !reflect.DeepEqual(after, before) {
		t.Errorf("%d alerts and %d withdrawn, want the same %d as before", len(after), withdrawn, len(before))
	}
	b.finish()
}
