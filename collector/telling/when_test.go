package telling

import (
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"brinebell/collector/casebook"
	"brinebell/detect"
	"brinebell/detect/care"
)

func TestHours(t *testing.T) {
	dublin, err := time.LoadLocation("Europe/Dublin")
	if err != nil {
		t.Fatal(err)
	}
	at := func(day, hour, minute int) time.Time { return time.Date(2026, 3, day, hour, minute, 0, 0, dublin) }
	night := care.Channel{From: 22 * time.Hour, To: 6 * time.Hour}
	digest := care.Channel{From: 8 * time.Hour, To: 9 * time.Hour, Digest: true}
	for _, row := range []struct {
		name      string
		now, want time.Time
		channel   care.Channel
	}{
		{"in waking hours", at(10, 12, 0), at(10, 12, 0), care.Channel{}},
		{"the first minute", at(10, 7, 0), at(10, 7, 0), care.Channel{}},
		{"in the evening", at(10, 22, 0), at(11, 7, 0), care.Channel{}},
		{"after midnight", at(11, 0, 1), at(11, 7, 0), care.Channel{}},
		{"in the night that the clocks go forward in (IANA time zone database)", at(28, 23, 0), at(29, 7, 0), care.Channel{}},
		{"who works at night, by day", at(10, 12, 0), at(10, 22, 0), night},
		{"who works at night, at night", at(10, 2, 0), at(10, 2, 0), night},
		{"the whole day", at(10, 2, 0), at(10, 2, 0), care.Channel{From: time.Hour, To: time.Hour}},
		{"a digest, later today", at(10, 3, 0), at(10, 8, 0), digest},
		{"a digest, tomorrow", at(10, 8, 1), at(11, 8, 0), digest},
		{"a digest of one who said no hour", at(10, 8, 1), at(11, 7, 0), care.Channel{Digest: true}},
	} {
		if got := due(row.now, dublin, row.channel); !got.Equal(row.want) {
			t.Errorf("%s: %s, want %s", row.name, got, row.want)
		}
	}
}

// Whenever, and whatever the hours: it comes within a day, within the hours, and
// at once if they are now.
func TestHoursHold(t *testing.T) {
	places := []string{"Europe/Dublin", "America/Phoenix", "Pacific/Chatham", "Australia/Lord_Howe"}
	rapid.Check(t, func(t *rapid.T) {
		loc, err := time.LoadLocation(rapid.SampledFrom(places).Draw(t, "place"))
		if err != nil {
			t.Fatal(err)
		}
		now := noon.Add(time.Duration(rapid.IntRange(0, 365*24*60).Draw(t, "minute")) * time.Minute)
		c := care.Channel{From: time.Duration(rapid.IntRange(0, 23).Draw(t, "from")) * time.Hour, To: time.Duration(rapid.IntRange(0, 24).Draw(t, "to")) * time.Hour}
		got := due(now, loc, c)
		if wait := got.Sub(now); wait < 0 || wait > 25*time.Hour {
			t.Fatalf("it waits %s", wait)
		}
		if again := due(got, loc, c); !again.Equal(got) {
			t.Fatalf("at %s it is put off to %s", got.In(loc), again.In(loc))
		}
	})
}

func TestNobodyIsWokenForSalt(t *testing.T) {
	s := newScene(t, household("h1", mailTo("ann@home.test")))
	box := openMailbox(t, "127.0.0.1:0")
	s.mail(box.port())
	s.now = noon.Add(11 * time.Hour) // 23:00
	s.save(raised("a", detect.SaltLow, detect.ThisWeek, s.now))
	s.until(noon.Add(19 * time.Hour).Add(-time.Minute))
	if n := len(box.all()); n != 0 {
		t.Fatalf("%d mails in the night", n)
	}
	s.save(raised("a", detect.Burst, detect.ActNow, s.now))
	if n := len(box.all()); n != 1 {
		t.Fatalf("%d mails, want that of the burst at once", n)
	}
	s.until(noon.Add(19 * time.Hour))
	if n := len(box.all()); n != 2 {
		t.Errorf("%d mails, want that of the salt at seven", n)
	}
}

func TestToldAgainUntilSomebodyTakesIt(t *testing.T) {
	tom := technician("t1", mailTo("tom@firm.test"))
	s := newScene(t, tom, technician("t2", care.Channel{Kind: care.Mail, Target: "tess@firm.test", Least: detect.ActNow}))
	box := openMailbox(t, "127.0.0.1:0")
	s.mail(box.port())
	burst := raised("a", detect.Burst, detect.ActNow, noon)
	s.save(burst)
	for _, want := range []struct {
		after time.Duration
		mails int // to each of two
	}{{9 * time.Minute, 1}, {11 * time.Minute, 2}, {29 * time.Minute, 2}, {31 * time.Minute, 3}, {71 * time.Minute, 4}, {151 * time.Minute, 5}, {271 * time.Minute, 6}, {391 * time.Minute, 7}} {
		s.until(noon.Add(want.after))
		if n := len(box.all()); n != 2*want.mails {
			t.Errorf("after %s %d mails, want %d to each of two", want.after, n, want.mails)
		}
	}
	m, _, _ := read(t, box.all()[13].data)
	if got := subject(t, m); !strings.HasPrefix(got, "Nobody has taken this yet. Act now:") {
		t.Errorf("%q", got)
	}
	s.act(tom, burst, casebook.Doing{Act: care.Acknowledge})
	before := len(box.all())
	s.until(s.now.Add(6 * time.Hour))
	if n := len(box.all()); n != before {
		t.Errorf("%d more after somebody has it", n-before)
	}
}

func TestNoneIsToldAgainOfWhatIsOver(t *testing.T) {
	s := newScene(t, technician("t1", mailTo("tom@firm.test")))
	box := openMailbox(t, "127.0.0.1:0")
	s.mail(box.port())
	burst := raised("a", detect.Burst, detect.ActNow, noon)
	s.save(burst)
	burst.Cleared = noon.Add(5 * time.Minute)
	s.now = burst.Cleared
	s.save(burst)
	s.until(noon.Add(6 * time.Hour))
	mails := box.all()
	if len(mails) != 2 {
		t.Fatalf("%d mails, want that it is and that it is over", len(mails))
	}
	m, parts, _ := read(t, mails[1].data)
	if got := subject(t, m); !strings.HasPrefix(got, "Over: ") || !strings.Contains(string(parts["text/plain"]), "stopped by itself") {
		t.Errorf("%q\n%s", got, parts["text/plain"])
	}
}

// A fleet in which everything breaks at once: nobody gets more than the limit,
// and nobody misses anything.
func TestManyTroublesAtOnce(t *testing.T) {
	s := newScene(t, technician("t1", mailTo("tom@firm.test")), technician("t2", care.Channel{Kind: care.Mail, Target: "tess@firm.test", Digest: true, From: 8 * time.Hour, To: 9 * time.Hour}))
	box := openMailbox(t, "127.0.0.1:0")
	s.mail(box.port())
	const homes = 40
	for i := range homes {
		s.now = noon.Add(time.Duration(i) * time.Minute)
		s.save(raised("h"+string(rune('a'+i%26))+string(rune('a'+i/26)), detect.SaltLow, detect.Plan, s.now))
	}
	s.until(noon.Add(59 * time.Minute))
	if n := len(box.all()); n != PerHour {
		t.Errorf("%d mails in an hour, want %d", n, PerHour)
	}
	s.until(noon.Add(24 * time.Hour))
	said := map[string]int{}
	digests := 0
	for _, mail := range box.all() {
		_, parts, _ := read(t, mail.data)
		said[mail.to[0]] += strings.Count(string(parts["text/plain"]), "What to do now:")
		if mail.to[0] == "tess@firm.test" {
			digests++
		}
	}
	if said["tom@firm.test"] != homes || said["tess@firm.test"] != homes || digests != 1 {
		t.Errorf("%v in %d digests, want each of the %d homes once, and one digest", said, digests, homes)
	}
}

func TestWhoHearsWhat(t *testing.T) {
	ann, tom := household("h1", mailTo("ann@home.test")), technician("t1", mailTo("tom@firm.test"))
	tess := technician("t2", care.Channel{Kind: care.Mail, Target: "tess@firm.test", Least: detect.ActNow})
	off := technician("t3", mailTo("off@firm.test"))
	off.Disabled = true
	s := newScene(t, ann, tom, tess, off, care.Person{ID: "o1", Role: care.Operator, Channels: []care.Channel{mailTo("op@site.test")}},
		care.Person{ID: "h2", Firm: "saltmarsh", Role: care.Household, Homes: []string{"b"}, Channels: []care.Channel{mailTo("next@door.test")}})
	box := openMailbox(t, "127.0.0.1:0")
	s.mail(box.port())
	salt := raised("a", detect.SaltLow, detect.ThisWeek, noon)
	heard := func(what string, want ...string) {
		t.Helper()
		var got []string
		for _, m := range box.all() {
			got = append(got, m.to...)
		}
		if len(got) != len(want) {
			t.Errorf("%s: %v heard, want %v", what, got, want)
		}
		for _, w := range want {
			if !strings.Contains(strings.Join(got, " "), w) {
				t.Errorf("%s: %v heard, want %v", what, got, want)
			}
		}
		box.mu.Lock()
		box.mails = nil
		box.mu.Unlock()
	}
	s.save(salt)
	heard("salt", "ann@home.test", "tom@firm.test")
	s.act(tom, salt, doing(care.AskHouse, "Which salt?"))
	heard("a question to the household", "ann@home.test")
	s.act(ann, salt, doing(care.Answer, "Tablets."))
	heard("its answer", "tom@firm.test")
	s.act(ann, salt, doing(care.AskFirm, "When do you come?"))
	heard("a question to the firm", "tom@firm.test", "tess@firm.test")
	s.act(tom, salt, casebook.Doing{Act: care.Repair, Cause: detect.SaltEmpty})
	salt.Severity = detect.ActNow
	heard("a repair")
	salt.Cleared = noon.Add(time.Hour)
	s.now = salt.Cleared
	s.save(salt)
	heard("what is over after a repair")
}

// What was closed and comes to be a matter of acting at once is told anew.
func TestClosedAndThenWorse(t *testing.T) {
	tom, boss := technician("t1", mailTo("tom@firm.test")), care.Person{ID: "m1", Firm: "saltmarsh", Role: care.Manager}
	s := newScene(t, tom)
	box := openMailbox(t, "127.0.0.1:0")
	s.mail(box.port())
	leak := raised("a", detect.NightLeak, detect.ThisWeek, noon)
	s.save(leak)
	s.act(boss, leak, casebook.Doing{Act: care.Close})
	s.now = noon.Add(15 * time.Hour) // at three in the morning
	leak.Severity = detect.ActNow
	s.save(leak)
	mails := box.all()
	if len(mails) != 2 {
		t.Fatalf("%d mails, want two", len(mails))
	}
	m, parts, _ := read(t, mails[1].data)
	if got, text := subject(t, m), string(parts["text/plain"]); !strings.HasPrefix(got, "Act now: ") || !strings.HasPrefix(text, "Now a matter of acting at once. Water has") {
		t.Errorf("%q\n%s", got, text)
	}
}
