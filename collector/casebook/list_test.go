package casebook

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"math/rand/v2"
	"slices"
	"testing"

	"brinebell/detect"
	"brinebell/detect/care"
)

func TestListsComeByWhatWaitingCosts(t *testing.T) {
	s := newScene(t)
	random := rand.New(rand.NewPCG(7, 11))
	var homes []string
	for i := range 23 {
		home := fmt.Sprintf("home-%d", i)
		homes = append(homes, home)
		a := raised(home, detect.NightLeak, float64(i)/10)
		a.Evidence["litres_per_day"] = float64(random.IntN(5)) * 100 // some alike
		s.save(home, a)
	}
	s.save("far-1", raised("far-1", detect.Burst, 0))
	for _, order := range []Order{ByLoss, ByChange} {
		whole, err := s.book.List(context.Background(), Query{Homes: homes, Order: order, Limit: MaxLimit})
		if err != nil || len(whole.Cases) != len(homes) || whole.Next != "" {
			t.Fatalf("%d cases %v", len(whole.Cases), err)
		}
		var paged []Case
		for q := (Query{Homes: homes, Order: order, Limit: 4}); ; {
			page, err := s.book.List(context.Background(), q)
			if err != nil {
				t.Fatal(err)
			}
			paged = append(paged, page.Cases...)
			if q.After = page.Next; q.After == "" {
				break
			}
		}
		same := slices.EqualFunc(paged, whole.Cases, func(a, b Case) bool { return a.ID == b.ID })
		sorted := slices.IsSortedFunc(whole.Cases, func(a, b Case) int {
			if order == ByChange {
				return cmp.Compare(b.Version, a.Version)
			}
			return cmp.Compare(b.Loss.PerDay, a.Loss.PerDay)
		})
		if !same || !sorted {
			t.Errorf("by %q: the pages differ from the whole, or it is not in order", order)
		}
		if c := whole.Cases[0]; len(c.Steps) != 1 || c.Last().Act != care.Raised || len(c.Standing) != 1 || len(c.Alerts) != 1 {
			t.Errorf("%+v, want its last step and what stands", c)
		}
	}
}

func TestListOfHomesStagesAndTime(t *testing.T) {
	s := newScene(t)
	s.save("a", raised("a", detect.NightLeak, 0))
	s.now = day(3)
	s.save("b", raised("b", detect.NightLeak, 1), raised("b", detect.SaltLow, 1))
	for want, q := range map[int]Query{
		0: {Homes: []string{}},
		1: {Homes: []string{"a", "unknown"}},
		2: {Since: day(2)},
		3: {},
	} {
		if page, err := s.book.List(context.Background(), q); err != nil || len(page.Cases) != want {
			t.Errorf("%+v: %d cases %v, want %d", q, len(page.Cases), err, want)
		}
	}
	if _, err := s.book.Act(context.Background(), manager, s.cases()[0].ID, Doing{Act: care.Close}); err != nil {
		t.Fatal(err)
	}
	if page, err := s.book.List(context.Background(), Query{}); err != nil || len(page.Cases) != 2 {
		t.Errorf("%d cases %v, want no closed one", len(page.Cases), err)
	}
	if n, err := s.book.Counts(context.Background(), nil); err != nil || n[care.Open] != 2 || n[care.Closed] != 1 {
		t.Errorf("%v %v", n, err)
	}
}

func TestMarkOfAPage(t *testing.T) {
	s := newScene(t)
	s.save("a", raised("a", detect.NightLeak, 0))
	byChange := cursor(ByChange, s.one())
	for _, mark := range []string{"x", "////", "fHx8fA", "'; DROP TABLE cases", byChange} {
		if _, err := s.book.List(context.Background(), Query{After: mark}); !errors.Is(err, ErrCursor) {
			t.Errorf("%q: %v", mark, err)
		}
	}
}
