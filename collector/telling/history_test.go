package telling

import (
	"context"
	"testing"
	"time"

	"github.com/prometheus/client_golang/prometheus/testutil"

	"brinebell/detect"
	"brinebell/detect/care"
)

func TestWhoWasTold(t *testing.T) {
	s := newScene(t, household("h1", mailTo("ann@home.test")), technician("t1", mailTo("tom@firm.test")))
	box := openMailbox(t, "127.0.0.1:0")
	box.refuse["tom@firm.test"] = 451
	s.mail(box.port())
	burst := raised("a", detect.Burst, detect.ActNow, noon)
	s.save(burst)
	s.until(noon.Add(11 * time.Minute))
	told, err := s.teller.Told(context.Background(), burst.ID)
	if err != nil || len(told) != 3 {
		t.Fatalf("%+v %v, want one to each and one again", told, err)
	}
	ann, tom, again := told[0], told[1], told[2]
	if ann.Person != "h1" || !ann.At.Equal(noon) || ann.Outcome != delivered || tom.Person != "t1" || tom.Outcome != "" || !tom.At.IsZero() ||
		again.Person != "h1" || again.Again != 1 || again.Kind != care.Mail {
		t.Errorf("%+v", told)
	}
	if n, age := testutil.ToFloat64(s.teller.metrics.waiting), testutil.ToFloat64(s.teller.metrics.oldest); n != 1 || age != 11*60 {
		t.Errorf("%v wait, the oldest for %v s; want 1 for 11 minutes", n, age)
	}
	box.mu.Lock()
	box.refuse = nil
	box.mu.Unlock()
	s.until(noon.Add(14 * time.Minute))
	if n, age := testutil.ToFloat64(s.teller.metrics.waiting), testutil.ToFloat64(s.teller.metrics.oldest); n != 0 || age != 0 {
		t.Errorf("%v wait, the oldest for %v s; want none", n, age)
	}
}

// What waits for a mail server that is down does not crowd out the rest.
func TestMailServerThatIsDownHoldsUpNothingElse(t *testing.T) {
	h := openHook(t)
	s := newScene(t, technician("t1", mailTo("tom@firm.test"), h.channel()))
	s.opts.Mail = MailOptions{Host: "127.0.0.1", Port: closedPort(t), From: "bell@pages.test", TLS: PlainTCP}
	s.hooks(h)
	for i := range 5 {
		s.now = s.now.Add(UrgentGap)
		s.save(raised("h"+string(rune('a'+i)), detect.Burst, detect.ActNow, s.now))
	}
	if n := len(h.all()); n != 5 {
		t.Errorf("%d events, want all five", n)
	}
	if n := s.count(`SELECT count(*) FROM deliveries WHERE kind = 'mail' AND next IS NOT NULL`); n != 5 {
		t.Errorf("%d mails wait, want five", n)
	}
}
