package telling

import (
	"context"
	"encoding/json"
	"errors"
	"strings"
	"sync"
	"testing"
	"time"

	"brinebell/collector/casebook"
	"brinebell/detect"
	"brinebell/detect/care"
)

// broker keeps what is retained, as a broker does.
type broker struct {
	mu       sync.Mutex // guards the rest
	retained map[string]string
	sent     int
	down     bool
}

func (b *broker) Publish(_ context.Context, topic string, payload []byte, retain bool) error {
	b.mu.Lock()
	defer b.mu.Unlock()
	if b.down || !retain {
		return errors.New("not connected")
	}
	b.sent++
	if b.retained[topic] = string(payload); len(payload) == 0 {
		delete(b.retained, topic)
	}
	return nil
}

func TestAlertsThatStandAreAtTheBroker(t *testing.T) {
	b := &broker{retained: map[string]string{}}
	s := newScene(t)
	s.opts.Publisher = b
	s.restartTeller()
	s.book.Changed(func(string) { s.teller.Wake() })
	leak, salt := raised("a", detect.NightLeak, detect.ThisWeek, noon), raised("b", detect.SaltLow, detect.Plan, noon)
	s.save(leak, salt)
	topic := "homes/a/alerts/" + leak.ID
	var got struct{ Home, Alert, Kind, Case, Stage string }
	if err := json.Unmarshal([]byte(b.retained[topic]), &got); err != nil || got.Home != "a" || got.Alert != leak.ID || got.Kind != "night_leak" || got.Case != leak.ID || got.Stage != "open" {
		t.Errorf("%q %v", b.retained[topic], err)
	}
	sent := b.sent
	s.step()
	s.teller.Wake()
	s.step()
	if b.sent != sent || len(b.retained) != 2 {
		t.Errorf("%d more were sent though nothing changed, %d are there", b.sent-sent, len(b.retained))
	}
	s.act(technician("t1"), leak, casebook.Doing{Act: care.Acknowledge})
	if !strings.Contains(b.retained[topic], `"stage":"taken"`) {
		t.Errorf("%q, want it taken", b.retained[topic])
	}
	b.down = true
	leak.Cleared = noon.Add(time.Hour)
	s.save(leak)
	s.open() // it is cleared there after a restart, too
	s.opts.Publisher = b
	s.restartTeller()
	b.down = false
	s.step()
	if _, ok := b.retained[topic]; ok || len(b.retained) != 1 {
		t.Errorf("%v, want only the other", b.retained)
	}
	b.retained = map[string]string{} // it has forgotten all
	s.now = s.now.Add(wholeEvery)
	s.step()
	if len(b.retained) != 1 {
		t.Errorf("%v, want it published anew", b.retained)
	}
}

func TestWithoutPeopleNobodyIsToldAndThatIsSaid(t *testing.T) {
	s := newScene(t)
	s.opts.People = nil
	s.restartTeller()
	s.save(raised("a", detect.Burst, detect.ActNow, noon))
	if n := s.count(`SELECT count(*) FROM messages`); n != 0 || s.count(`SELECT count(*) FROM outbox`) != 0 {
		t.Errorf("%d messages", n)
	}
	ctx, stop := context.WithCancel(context.Background())
	stop()
	if err := s.teller.Run(ctx); err != nil || !strings.Contains(s.log.String(), "nobody is told of anything: there are no people") {
		t.Errorf("%v\n%s", err, s.log)
	}
}
