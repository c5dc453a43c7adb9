package transfer_test

import (
	"context"
	"errors"
	"fmt"
	"math/rand/v2"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"go.uber.org/goleak"

	"brinebell/collector/influxtest"
	"brinebell/collector/series"
	"brinebell/collector/series/influx"
	"brinebell/collector/series/transfer"
	"brinebell/detect"
)

func TestMain(m *testing.M) { goleak.VerifyTestMain(m) }

var start = time.Date(2025, 3, 1, 5, 0, 0, 0, time.UTC)

func embedded(t testing.TB) *series.TSDB {
	t.Helper()
	s, err := series.Open(series.Options{Dir: t.TempDir(), NoSync: true, Window: 5 * 365 * 24 * time.Hour})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := s.Close(); err != nil {
			t.Error(err)
		}
	})
	return s
}

// fill puts days of two homes into a store, with a silence of a week between.
func fill(t testing.TB, s series.Store, days int) (n int) {
	t.Helper()
	random := rand.New(rand.NewPCG(1, 2))
	for d := range days {
		if d%30 > 22 {
			continue
		}
		var batch []detect.Reading
		for i := range 100 {
			at := start.AddDate(0, 0, d).Add(time.Duration(i) * 7 * time.Minute)
			for _, home := range []string{"a", "b"} {
				batch = append(batch, detect.Reading{Home: home, Signal: detect.InletVolume, Time: at, Value: random.NormFloat64()},
					detect.Reading{Home: home, Signal: detect.BrineLevel, Time: at.Add(time.Millisecond), Value: random.Float64() / 3})
			}
		}
		if rejected, err := s.Append(context.Background(), batch); err != nil || len(rejected) > 0 {
			t.Fatal(rejected, err)
		}
		n += len(batch)
	}
	return n
}

func everything(t testing.TB, s series.Store) (all []detect.Reading) {
	t.Helper()
	for _, home := range []string{"a", "b"} {
		readings, err := series.ReadHome(context.Background(), s, home, time.Time{}, start.AddDate(3, 0, 0))
		if err != nil {
			t.Fatal(err)
		}
		all = append(all, readings...)
	}
	return all
}

func TestAYear(t *testing.T) {
	from, to := embedded(t), embedded(t)
	n := fill(t, from, 365)
	shown := 0
	r, err := transfer.Copy(context.Background(), transfer.Options{From: from, To: to, Shown: func(transfer.Progress) { shown++ }})
	if err != nil || r.Readings != int64(n) || r.Differing != 0 || r.Rejected != 0 || r.Done != r.Total || shown != r.Total {
		t.Errorf("%+v %v after %d, want %d readings", r, err, shown, n)
	}
	if !slices.Equal(everything(t, from), everything(t, to)) {
		t.Error("the copy is not the same")
	}
}

// TestThereAndBack goes through a real server and back.
func TestThereAndBack(t *testing.T) {
	server := influxtest.Start(t)
	between, err := influx.Open(influx.Options{URL: server.URL, Bucket: server.NewBucket(t)})
	if err != nil {
		t.Fatal(err)
	}
	defer between.Close()
	from, to := embedded(t), embedded(t)
	n := fill(t, from, 40)
	for _, way := range []transfer.Options{{From: from, To: between}, {From: between, To: to}} {
		if r, err := transfer.Copy(context.Background(), way); err != nil || r.Readings != int64(n) || r.Differing != 0 {
			t.Fatalf("%+v %v, want %d readings", r, err, n)
		}
	}
	if !slices.Equal(everything(t, from), everything(t, to)) {
		t.Error("what came back is not the same")
	}
}

// breaking is a store that fails after some writes.
type breaking struct {
	series.Store
	left int
}

var errBroken = errors.New("broken")

func (b *breaking) Append(ctx context.Context, readings []detect.Reading) ([]series.Rejected, error) {
	if b.left--; b.left < 0 {
		return nil, errBroken
	}
	return b.Store.Append(ctx, readings)
}

// TestResumed breaks a copy off again and again: each time it must go on where it
// was, and not begin anew.
func TestResumed(t *testing.T) {
	from, to := embedded(t), embedded(t)
	n := fill(t, from, 60)
	opts := transfer.Options{From: from, Journal: filepath.Join(t.TempDir(), "journal"), AtOnce: 1}
	resumed := 0
	for round := 0; ; round++ {
		opts.To = &breaking{to, 9}
		r, err := transfer.Copy(context.Background(), opts)
		if round > 0 && r.Resumed <= resumed {
			t.Fatalf("round %d resumed after %d home days, the one before after %d", round, r.Resumed, resumed)
		}
		if resumed = r.Resumed; err == nil {
			break
		}
		if !errors.Is(err, errBroken) {
			t.Fatal(err)
		}
	}
	if all := everything(t, to); len(all) != n || !slices.Equal(everything(t, from), all) {
		t.Errorf("%d readings arrived, want %d", len(all), n)
	}
}

// bending is a store that loses or changes one reading in so many.
type bending struct {
	series.Store
	bend func([]detect.Reading) []detect.Reading
}

func (b bending) Append(ctx context.Context, readings []detect.Reading) ([]series.Rejected, error) {
	return b.Store.Append(ctx, b.bend(slices.Clone(readings)))
}

// TestDifferences: a lost or changed reading must be found.
func TestDifferences(t *testing.T) {
	for name, bend := range map[string]func([]detect.Reading) []detect.Reading{
		"lost":    func(r []detect.Reading) []detect.Reading { return r[1:] },
		"changed": func(r []detect.Reading) []detect.Reading { r[3].Value++; return r },
		"moved":   func(r []detect.Reading) []detect.Reading { r[3].Time = r[3].Time.Add(time.Millisecond); return r },
	} {
		from := embedded(t)
		fill(t, from, 3)
		r, err := transfer.Copy(context.Background(), transfer.Options{From: from, To: bending{embedded(t), bend}})
		if err != nil || r.Differing != 6 || len(r.Differences) != 6 {
			t.Errorf("%s: %+v %v, want six home days to differ", name, r, err)
		}
	}
}

// TestConflict: what the target has already stays and is said; what it has more is
// no difference.
func TestConflict(t *testing.T) {
	from, to := embedded(t), embedded(t)
	fill(t, from, 2)
	other := detect.Reading{Home: "a", Signal: detect.InletVolume, Time: start, Value: 99}
	more := detect.Reading{Home: "b", Signal: detect.InletVolume, Time: start.Add(time.Second), Value: 7}
	if _, err := to.Append(context.Background(), []detect.Reading{other, more}); err != nil {
		t.Fatal(err)
	}
	r, err := transfer.Copy(context.Background(), transfer.Options{From: from, To: to})
	if err != nil || r.Differing != 1 || r.Rejected != 1 || !strings.Contains(fmt.Sprint(r.Differences[0]), "did not take 1 readings") {
		t.Errorf("%+v %v", r, err)
	}
}

func TestNothing(t *testing.T) {
	if r, err := transfer.Copy(context.Background(), transfer.Options{From: embedded(t), To: embedded(t)}); err != nil || r.Total != 0 {
		t.Errorf("%+v %v", r, err)
	}
	if _, err := transfer.Copy(context.Background(), transfer.Options{}); err == nil {
		t.Error("nothing was copied to nowhere")
	}
}
