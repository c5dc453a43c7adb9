package judge

import (
	"context"
	"math/rand/v2"
	"reflect"
	"sync"
	"testing"
	"time"

	"brinebell/detect"
)

// profiles notes with which profile each engine was made.
type profiles struct {
	mu   sync.Mutex
	made []detect.Home // guarded by mu
}

func (p *profiles) engine(h detect.Home) Engine {
	p.mu.Lock()
	defer p.mu.Unlock()
	p.made = append(p.made, h)
	return newFake(h)
}

func (p *profiles) count() int {
	p.mu.Lock()
	defer p.mu.Unlock()
	return len(p.made)
}

func (p *profiles) last() detect.Home {
	p.mu.Lock()
	defer p.mu.Unlock()
	return p.made[len(p.made)-1]
}

func (b *bench) put(h detect.Home) {
	b.t.Helper()
	if err := b.judge.Put(context.Background(), h); err != nil {
		b.t.Fatal(err)
	}
}

// TestAHomeThatComesLater is judged as one that was there from the beginning,
// also over a restart, and with readings that were stored before it was known.
func TestAHomeThatComesLater(t *testing.T) {
	all, later := newBench(t, 3), newBench(t, 3)
	readings := scenario(all.homes, rand.New(rand.NewPCG(1, 2)))
	all.start()
	all.take(readings...)
	all.finish()

	everyone := later.homes
	later.homes = everyone[:2]
	later.start()
	later.take(readings[:600]...)
	later.put(everyone[2])
	later.take(readings[600:1200]...)
	later.homes = everyone
	later.finish()
	later.start()
	later.take(readings[1200:]...)
	later.finish()
	want, _ := all.alerts()
	got, withdrawn := later.alerts()
	if !reflect.DeepEqual(got, want) || withdrawn != 0 || len(want) == 0 {
		t.Errorf("%d alerts, %d withdrawn; want %d", len(got), withdrawn, len(want))
	}
}

// TestAnotherProfile changes what leaves the past as it was, and what does not.
func TestAnotherProfile(t *testing.T) {
	b := newBench(t, 1)
	p := &profiles{}
	b.engine = p.engine
	b.start()
	readings := scenario(b.homes, rand.New(rand.NewPCG(3, 4)))
	b.take(readings[:300]...)
	before, _ := b.judge.Books("home-0")
	told := b.told.Load()

	h := b.homes[0]
	h.Name = "Another"
	b.put(h)
	if p.last().Name != "Another" {
		t.Error("the engine has the old profile")
	}
	if after, ok := b.judge.Books("home-0"); !ok || !reflect.DeepEqual(after, before) {
		t.Errorf("the books began anew: %+v, were %+v", after, before)
	}
	h.Meters = detect.Meters{}
	b.put(h)
	if after, ok := b.judge.Books("home-0"); !ok || !reflect.DeepEqual(after, before) || p.last().Meters.Inlet != nil {
		t.Errorf("judged again over the same readings: %+v, were %+v", after, before)
	}
	h.Away = []detect.Span{{From: noon.Add(12 * time.Hour), To: noon.Add(24 * time.Hour)}}
	b.put(h)
	if b.told.Load() != told {
		t.Error("news of what was known")
	}
	b.homes[0] = h
	b.take(readings[300:]...)
	b.finish()
	same := newBench(t, 1)
	same.start()
	same.take(readings...)
	same.finish()
	want, _ := same.alerts()
	if got, withdrawn := b.alerts(); !reflect.DeepEqual(got, want) || withdrawn != 0 {
		t.Errorf("%d alerts, %d withdrawn; want %d", len(got), withdrawn, len(want))
	}
}

// TestAProfileForASleeper reaches a home that has not caught up yet.
func TestAProfileForASleeper(t *testing.T) {
	b := newBench(t, 1)
	p := &profiles{}
	b.engine = p.engine
	h := b.homes[0]
	h.Name = "Another"
	var err error
	if b.judge, err = New(Options{Homes: b.homes, Store: b.store, State: b.state, NewEngine: b.engine}); err != nil {
		t.Fatal(err)
	}
	b.put(h)
	h.Meters = detect.Meters{}
	b.put(h)
	if p.count() != 0 {
		t.Error("woken before its turn")
	}
	if _, wanted, err := b.state.WantedRerun(context.Background(), h.ID); err != nil || !wanted {
		t.Error("it will not be judged again", err)
	}
	ctx, cancel := context.WithCancel(context.Background())
	ended := make(chan error, 1)
	go func() { ended <- b.judge.Run(ctx) }()
	<-b.judge.CaughtUp()
	if p.last().Name != "Another" || p.last().Meters.Inlet != nil {
		t.Error("it began with the old profile")
	}
	cancel()
	if err := <-ended; err != nil {
		t.Error(err)
	}
}

// TestHomesComeAndGo while readings come.
func TestHomesComeAndGo(t *testing.T) {
	b := newBench(t, 4)
	b.start()
	readings := scenario(b.homes, rand.New(rand.NewPCG(5, 6)))
	var both sync.WaitGroup
	both.Go(func() {
		for i := 0; i < len(readings); i += 20 {
			b.take(readings[i : i+20]...)
		}
	})
	both.Go(func() {
		for range 20 {
			if err := b.judge.Remove(context.Background(), "home-1"); err != nil {
				t.Error(err)
			}
			if _, ok := b.judge.Books("home-1"); ok {
				t.Error("books of a home that is gone")
			}
			b.put(b.homes[1])
		}
	})
	both.Wait()
	if err := b.judge.Remove(context.Background(), "home-1"); err != nil {
		t.Error(err)
	}
	b.finish()
	steady := newBench(t, 4)
	steady.start()
	steady.take(readings...)
	steady.finish()
	others := func(b *bench) (out []detect.Alert) {
		all, _ := b.alerts()
		for _, a := range all {
			if a.Home != "home-1" {
				out = append(out, a)
			}
		}
		return out
	}
	if !reflect.DeepEqual(others(b), others(steady)) {
		t.Error("it changed what is found at other homes")
	}
	if err := b.judge.Remove(context.Background(), "nobody"); err != nil {
		t.Error(err)
	}
}
