package household

import (
	"bufio"
	"compress/gzip"
	"errors"
	"io/fs"
	"os"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"
)

// spell is a stretch of steady flow, in Unix milliseconds.
type spell struct {
	from, to int64
	flow     float64
}

// recordedFlow reads a recording of inlet_flow: each reading is the mean since
// the one before, unless that is more than two minutes ago.
func recordedFlow(t *testing.T, name string) (flow []spell) {
	t.Helper()
	f, err := os.Open("../../testdata/real/" + name)
	if errors.Is(err, fs.ErrNotExist) {
		t.Skipf("the recording %s is not here", name)
	}
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	z, err := gzip.NewReader(f)
	if err != nil {
		t.Fatal(err)
	}
	last := int64(0)
	for lines := bufio.NewScanner(z); lines.Scan(); {
		fields := strings.Split(lines.Text(), ",")
		at, err := strconv.ParseFloat(fields[0], 64)
		if err != nil { // the header
			continue
		}
		ms := int64(at * 1000)
		if ms-last <= 120_000 {
			flow = append(flow, spell{last, ms, number(t, fields[3])})
		}
		last = ms
	}
	return flow
}

// played is the same of a simulated home.
func played(h Household, start time.Time, days int) (flow []spell) {
	d := Play(h, start, false)
	end := start.AddDate(0, 0, days).UnixMilli()
	for now := start.UnixMilli(); now < end; {
		soft, bypassed, until := d.Flow(now, 400)
		until = min(until, now+60_000)
		flow = append(flow, spell{now, until, soft + bypassed})
		now = until
	}
	return flow
}

// habits are statistics of a home's flow that do not hang on the resolution of
// its meter: uses are told apart by a minute without flow, and single pulses of
// a turbine, which the apartment's has at any hour, are no uses. Litres a day
// are not among them: the simulated homes are those of another country.
type habits struct {
	usesPerDay    float64
	medianUse     float64 // L
	nightSilence  float64 // share of the time from two to five without flow
	silentNights  float64 // share of nights with none at all
	longestQuiet  float64 // median over days of the day's longest time without flow, h
	busiestLitres float64 // most that passes in ten minutes, L
}

// habitsOf works them out from days recorded whole.
func habitsOf(flow []spell, loc *time.Location) habits {
	const use, tenMinutes, least = 60_000, 600_000, 0.1
	type day struct{ known, quietest, silent, night, litres float64 }
	days := map[int64]*day{}
	var h habits
	var volumes []float64
	var volume, ten, quiet float64
	var lastFlow, tenFrom int64
	for _, s := range flow {
		at := time.UnixMilli(s.from).In(loc)
		_, zone := at.Zone()
		key := (s.from + int64(zone)*1000) / 86_400_000
		d := days[key]
		if d == nil {
			d = &day{}
			days[key] = d
			quiet = 0
		}
		hours := float64(s.to-s.from) / 3600_000
		litres := s.flow * hours * 60
		d.known += hours
		d.litres += litres
		if at.Hour() >= 2 && at.Hour() < 5 {
			d.night += hours
			if s.flow == 0 {
				d.silent += hours
			}
		}
		if s.flow == 0 {
			quiet += hours
			d.quietest = max(d.quietest, quiet)
			continue
		}
		quiet = 0
		if s.from-lastFlow > use && volume > 0 {
			if volume > least {
				volumes = append(volumes, volume)
			}
			volume = 0
		}
		volume += litres
		lastFlow = s.to
		if s.from-tenFrom > tenMinutes {
			tenFrom, ten = s.from, 0
		}
		ten += litres
		h.busiestLitres = max(h.busiestLitres, ten)
	}
	whole, nights, silent, quietNights := 0.0, 0.0, 0.0, 0.0
	var quietest []float64
	for _, d := range days {
		if d.known < 23.4 || d.litres < 5 { // not recorded whole, or nobody at home
			continue
		}
		whole++
		quietest = append(quietest, d.quietest)
		silent += d.silent
		nights += d.night
		if d.silent > d.night-0.01 {
			quietNights++
		}
	}
	slices.Sort(volumes)
	slices.Sort(quietest)
	h.usesPerDay = float64(len(volumes)) / float64(len(days))
	h.medianUse = volumes[len(volumes)/2]
	h.nightSilence, h.silentNights = silent/nights, quietNights/whole
	h.longestQuiet = quietest[len(quietest)/2]
	return h
}

// A real home would not stand out among 200 simulated ones of as many people:
// none of its habits is beyond all of theirs. A home of the same kind would be
// by chance for one habit in a hundred, so for the dozen here once in eight
// seeds; two homes cannot tell more.
func TestRealHomesWouldNotStandOut(t *testing.T) {
	const homes, days = 200, 28
	for _, c := range []struct {
		file, zone string
		people     int
		start      time.Time
		population Population
	}{
		{"apartment.csv.gz", "Europe/Rome", 1, time.Date(2019, 5, 1, 0, 0, 0, 0, time.UTC), Population{IceMaker: 0.05}},
		{"sprinkler-house.csv.gz", "America/Denver", 5, time.Date(2020, 7, 1, 0, 0, 0, 0, time.UTC), Population{TimedIrrigation: 1, IceMaker: 0.2}},
	} {
		loc, err := time.LoadLocation(c.zone)
		if err != nil {
			t.Fatal(err)
		}
		real := habitsOf(recordedFlow(t, c.file), loc)
		var all []habits
		for i := range homes {
			h := Draw(uint64(5000+i), c.people, c.population, loc)
			all = append(all, habitsOf(played(h, c.start, days), loc))
		}
		for name, of := range map[string]func(habits) float64{
			"uses a day":                  func(h habits) float64 { return h.usesPerDay },
			"median use, L":               func(h habits) float64 { return h.medianUse },
			"silent share of two to five": func(h habits) float64 { return h.nightSilence },
			"share of silent nights":      func(h habits) float64 { return h.silentNights },
			"longest quiet of a day, h":   func(h habits) float64 { return h.longestQuiet },
			"most litres in ten minutes":  func(h habits) float64 { return h.busiestLitres },
		} {
			var values []float64
			for _, h := range all {
				values = append(values, of(h))
			}
			slices.Sort(values)
			low, high := values[0], values[homes-1]
			t.Logf("%s: %-28s %8.3f, simulated %8.3f to %8.3f, median %.3f", c.file, name, of(real), low, high, values[homes/2])
			if v := of(real); v < low || v > high {
				t.Errorf("%s: %s is %.3f, simulated homes have %.3f to %.3f", c.file, name, v, low, high)
			}
		}
	}
}
