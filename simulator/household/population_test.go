package household

import (
	"encoding/csv"
	"math"
	"os"
	"slices"
	"strconv"
	"testing"
	"time"
)

// table reads a table of published values: rows of fields without the header.
func table(t *testing.T, name string) [][]string {
	t.Helper()
	f, err := os.Open("../../testdata/tables/" + name)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	r := csv.NewReader(f)
	r.Comment = '#'
	rows, err := r.ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	return rows[1:]
}

func number(t *testing.T, text string) float64 {
	t.Helper()
	v, err := strconv.ParseFloat(text, 64)
	if err != nil {
		t.Fatal(err)
	}
	return v
}

// census is what a simulated population used.
type census struct {
	homeDays, personDays float64
	litres               [NumFixtures]float64
	uses                 [NumFixtures]float64
	minutes              [NumFixtures]float64
	hourly               [NumFixtures][24]float64 // litres, on weekdays
	perDay               []float64                // indoor litres a day of each home
}

var monday = time.Date(2025, 3, 3, 0, 0, 0, 0, time.UTC)

// count lives through so many days of so many homes of the population.
func count(homes, days int, p Population) *census {
	var c census
	for i := range homes {
		h := Draw(uint64(1000+i), 0, p, time.UTC)
		before := c.indoor()
		for _, u := range lived(h, monday, days) {
			c.add(u)
		}
		c.homeDays += float64(days)
		c.personDays += float64(days * len(h.People))
		c.perDay = append(c.perDay, (c.indoor()-before)/float64(days))
	}
	return &c
}

// lived is every use of a home in so many days.
func lived(h Household, start time.Time, days int) []Use {
	d := Play(h, start, false)
	var all []Use
	for range days {
		d.planDay()
		all = append(all, d.pending...)
		d.next = len(d.pending)
	}
	return all
}

func (c *census) add(u Use) {
	v := u.Litres()
	c.litres[u.Fixture] += v
	c.uses[u.Fixture]++
	c.minutes[u.Fixture] += float64(u.End-u.Start) / 60000
	at := time.UnixMilli(u.Start).UTC()
	if w := at.Weekday(); w != time.Saturday && w != time.Sunday {
		c.hourly[u.Fixture][at.Hour()] += v
	}
}

func (c *census) indoor() float64 {
	sum := 0.0
	for f := Toilet; f < Irrigation; f++ {
		sum += c.litres[f]
	}
	return sum
}

func (c *census) gallonsPerHome(f Fixture) float64 {
	return c.litres[f] / c.homeDays / litresPerGallon
}

// quantities are the census's answers to the rows of the table. A machine's
// load is counted by its fills.
func (c *census) quantities() map[string]float64 {
	small := c.gallonsPerHome(IceMaker) + c.gallonsPerHome(Humidifier)
	q := map[string]float64{
		"flushes":           c.uses[Toilet] / c.personDays,
		"flush":             c.litres[Toilet] / c.uses[Toilet] / litresPerGallon,
		"shower_length":     c.minutes[Shower] / c.uses[Shower],
		"shower_flow":       c.litres[Shower] / c.minutes[Shower] / litresPerGallon,
		"showers":           c.uses[Shower] / c.personDays,
		"other":             c.gallonsPerHome(Other) + small,
		"indoor_per_person": 0,
	}
	for _, f := range []Fixture{Toilet, Shower, Faucet, Washer, Dishwasher, Bath} {
		q[f.String()] = c.gallonsPerHome(f)
	}
	return q
}

// The published indoor use counts what leaked; the simulated population's leaks
// come from Background.
func TestPopulationUsesWhatIsPublished(t *testing.T) {
	const homes, days = 1500, 28
	c := count(homes, days, Ordinary())
	q := c.quantities()
	leaks := make([]float64, homes)
	bad, all := 0.0, 0.0
	const draws = 40_000
	for i := range draws {
		l := Background(uint64(i))
		if i < homes {
			leaks[i] = l
		}
		all += l / draws / litresPerGallon
		if l >= 90*litresPerGallon {
			bad += 1.0 / draws
		}
	}
	q["leak"], q["leaking_90_gal"] = all, bad
	q["indoor_mean"] = c.indoor()/c.homeDays/litresPerGallon + all
	q["indoor_per_person"] = (c.indoor()/litresPerGallon + all*c.homeDays) / c.personDays
	for i := range c.perDay {
		c.perDay[i] += leaks[i]
	}
	slices.Sort(c.perDay)
	q["indoor_median"] = c.perDay[homes/2] / litresPerGallon
	w, d := loads(homes)
	q["washer_load"], q["dishwasher_load"] = w, d
	for _, row := range table(t, "enduse.csv") {
		want, tolerance := number(t, row[1]), number(t, row[3])
		got, ok := q[row[0]]
		if !ok {
			t.Errorf("nothing answers %s", row[0])
		}
		t.Logf("%-18s %8.3f published %8.3f %s (%s)", row[0], got, want, row[2], row[5])
		if math.Abs(got/want-1) > tolerance/100 {
			t.Errorf("%s is %.3f, published %.3f %s (%s, %s)", row[0], got, want, row[2], row[4], row[5])
		}
	}
}

// loads is the mean gallons of a washing machine's and a dishwasher's load.
func loads(homes int) (washer, dishwasher float64) {
	sum := func(a *Appliance) (v float64) {
		for _, f := range a.Fills {
			v += f.Litres / litresPerGallon
		}
		return v
	}
	with := 0.0
	for i := range homes {
		h := Draw(uint64(1000+i), 0, Ordinary(), time.UTC)
		washer += sum(&h.Washer) / float64(homes)
		if h.Dishwasher != nil {
			dishwasher += sum(h.Dishwasher)
			with++
		}
	}
	return washer, dishwasher / with
}

// Each hour's share is within 10 % of the published one, or within a tenth of
// the mean hour's where the published share is smaller than that.
func TestHoursOfUseArePublishedOnes(t *testing.T) {
	c := count(1500, 28, Population{NoHolidays: true})
	shares := func(fixtures ...Fixture) (h [24]float64) {
		sum := 0.0
		for _, f := range fixtures {
			for i, v := range c.hourly[f] {
				h[i] += v
				sum += v
			}
		}
		for i := range h {
			h[i] /= sum
		}
		return h
	}
	columns := [][24]float64{shares(Toilet, Shower, Faucet, Bath),
		starts(func(h *Household) *Appliance { return &h.Washer }), starts(func(h *Household) *Appliance { return h.Dishwasher })}
	for hour, row := range table(t, "enduse_hourly.csv") {
		for i, h := range columns {
			want := number(t, row[i+1])
			if tolerance := max(0.1*want, 0.1/24); math.Abs(h[hour]-want) > tolerance {
				t.Errorf("hour %d column %d: %.4f, published %.4f", hour, i+1, h[hour], want)
			}
		}
	}
}

// starts is the share of a machine's loads that begin in each hour of weekdays
// and weekends: the published hours are those in which machines run.
func starts(machine func(*Household) *Appliance) (h [24]float64) {
	n := 0.0
	for i := range 1500 {
		home := Draw(uint64(1000+i), 0, Population{NoHolidays: true}, time.UTC)
		a, fill := machine(&home), 0
		if a == nil {
			continue
		}
		for _, u := range lived(home, monday, 28) {
			if u.Fixture != a.Fixture {
				continue
			}
			if fill%len(a.Fills) == 0 {
				h[time.UnixMilli(u.Start).UTC().Hour()]++
				n++
			}
			fill++
		}
	}
	for i := range h {
		h[i] /= n
	}
	return h
}
