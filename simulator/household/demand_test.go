package household

import (
	"testing"
	"time"

	"brinebell/detect"
)

func litresOf(uses []Use) (sum float64) {
	for _, u := range uses {
		sum += u.Litres()
	}
	return sum
}

// What Flow says adds up to the uses that were planned.
func TestFlowAddsUpToTheUses(t *testing.T) {
	for seed := range uint64(5) {
		h := Draw(seed, 4, Difficult(), time.UTC)
		want := litresOf(lived(h, monday, 20))
		got := 0.0
		for _, s := range played(h, monday, 21) { // a day more, for what runs over midnight
			got += s.flow * float64(s.to-s.from) / 60000
		}
		last := litresOf(lived(h, monday, 21)) - want
		if got < want || got > want+last+1 {
			t.Errorf("seed %d: %.3f L flowed, %.3f to %.3f were planned", seed, got, want, want+last)
		}
	}
}

func TestSameSeedSameLife(t *testing.T) {
	a, b := lived(Draw(3, 0, Difficult(), time.UTC), monday, 30), lived(Draw(3, 0, Difficult(), time.UTC), monday, 30)
	if len(a) != len(b) || litresOf(a) != litresOf(b) {
		t.Error("a household differs from itself")
	}
	if c := lived(Draw(4, 0, Difficult(), time.UTC), monday, 30); litresOf(a) == litresOf(c) {
		t.Error("two seeds give the same household")
	}
}

// Nobody uses anything while everybody is away, told or not.
func TestAbsencesAreDry(t *testing.T) {
	found := 0
	for seed := range uint64(20) {
		h := Draw(seed, 3, Population{}, time.UTC)
		end := monday.AddDate(0, 0, 180)
		uses := lived(h, monday, 180)
		for _, a := range h.Absences(monday, end) {
			found++
			for _, u := range uses {
				if u.Start >= a.From.UnixMilli() && u.Start < a.To.UnixMilli() {
					t.Fatalf("seed %d: %s flows at %s, away from %s to %s", seed, u.Fixture, time.UnixMilli(u.Start).UTC(), a.From, a.To)
				}
			}
		}
	}
	if found < 20 {
		t.Errorf("20 households were away %d times in half a year", found)
	}
}

func TestAwayAndGrownHouseholds(t *testing.T) {
	use := func(c detect.Cause, severity float64) (sum float64) {
		for seed := range uint64(10) {
			d := Play(Draw(seed, 3, Population{NoHolidays: true}, time.UTC), monday, false)
			d.Set(c, severity, monday)
			for now := monday.UnixMilli(); now < monday.AddDate(0, 0, 14).UnixMilli(); {
				soft, _, until := d.Flow(now, 400)
				sum += soft * float64(until-now) / 60000
				now = until
			}
		}
		return sum
	}
	usual := use(detect.UseGrew, 0)
	if grown := use(detect.UseGrew, 1) / usual; grown < 1.5 || grown > 2.1 {
		t.Errorf("a household twice as big uses %.2f times as much", grown)
	}
	if away := use(detect.AwayFromHome, 1); away > 0 {
		t.Errorf("%.1f L flow with nobody at home", away)
	}
}

// Local days of 23 and 25 hours are planned whole, and times are local.
func TestClockChangesAreLocal(t *testing.T) {
	loc, err := time.LoadLocation("America/Denver")
	if err != nil {
		t.Fatal(err)
	}
	d := Play(Draw(1, 2, Population{}, loc), time.Date(2025, 3, 8, 12, 0, 0, 0, time.UTC), false)
	var lengths []float64
	for range 3 {
		from := d.date
		d.planDay()
		lengths = append(lengths, d.date.Sub(from).Hours())
	}
	if lengths[0] != 24 || lengths[1] != 23 || lengths[2] != 24 {
		t.Errorf("days of %v hours", lengths)
	}
}

func TestBypassedGardenIsNotSoftened(t *testing.T) {
	h := Draw(2, 2, Population{TimedIrrigation: 1, NoHolidays: true}, time.UTC)
	june := time.Date(2025, 6, 1, 0, 0, 0, 0, time.UTC)
	sums := map[bool][2]float64{}
	for _, bypass := range []bool{false, true} {
		d := Play(h, june, bypass)
		var s [2]float64
		for now := june.UnixMilli(); now < june.AddDate(0, 0, 10).UnixMilli(); {
			soft, bypassed, until := d.Flow(now, 400)
			s[0] += soft * float64(until-now)
			s[1] += bypassed * float64(until-now)
			now = until
		}
		sums[bypass] = s
	}
	if sums[false][1] != 0 || sums[true][1] == 0 || sums[true][0] >= sums[false][0] {
		t.Errorf("soft and bypassed: %v", sums)
	}
}

// Salt is poured in whole bags, when it is low, up to no more than is wanted.
func TestSaltHabit(t *testing.T) {
	tank := detect.DefaultHome("a", time.UTC).BrineTank
	s := SaltHabit{EveryDays: 4, Bag: 25, Low: 0.4, Full: 0.8}
	for _, c := range []struct {
		day   int
		level float64
		bags  float64
	}{{8, 500, 0}, {9, 100, 0}, {8, 320, 2}, {8, 60, 5}} {
		if got := s.Pour(c.day, c.level, tank) / s.Bag; got != c.bags {
			t.Errorf("day %d at %.0f mm: %.2f bags, not %.0f", c.day, c.level, got, c.bags)
		}
	}
}
