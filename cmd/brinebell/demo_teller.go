package main

import (
	"fmt"
	"io"
	"strings"
	"sync"
	"time"

	"brinebell/detect"
)

// teller says on the terminal what happens.
type teller struct {
	mu    sync.Mutex // guards all below; alerts and days come from two goroutines
	out   io.Writer
	homes map[string]detect.Home
	told  map[string]bool // alerts, and alerts over, by id
	start time.Time       // of the simulated time
	today time.Time
}

func newTeller(out io.Writer, homes []detect.Home, start time.Time) *teller {
	t := &teller{out: out, homes: map[string]detect.Home{}, told: map[string]bool{}, start: start, today: start}
	for _, h := range homes {
		t.homes[h.ID] = h
	}
	return t
}

// know notes alerts that an earlier run has told of.
func (t *teller) know(alerts []detect.Alert, now time.Time) {
	t.mu.Lock()
	defer t.mu.Unlock()
	t.today = now.Truncate(24 * time.Hour)
	for _, a := range alerts {
		t.told[toldKey(a.Home, a.ID, true)] = true
		if !a.Open() {
			t.told[toldKey(a.Home, a.ID, false)] = true
		}
	}
}

func toldKey(home, id string, open bool) string {
	if !open {
		id += " over"
	}
	return home + " " + id
}

// days is how many simulated days have passed.
func (t *teller) days() int { return int(t.today.Sub(t.start).Hours() / 24) }

// quiet is how many homes nothing was ever told of.
func (t *teller) quiet() int {
	troubled := map[string]bool{}
	for key := range t.told {
		home, _, _ := strings.Cut(key, " ")
		troubled[home] = true
	}
	return len(t.homes) - len(troubled)
}

func (t *teller) greet(url, broker string) {
	t.mu.Lock()
	defer t.mu.Unlock()
	begins := "Nothing is wrong for the first days; then troubles begin."
	if n := t.days(); n > 0 {
		begins = fmt.Sprintf("It goes on from day %d; nothing was ever wrong at %d of them.", n, t.quiet())
	}
	fmt.Fprintf(t.out, "Brackenford: %d simulated homes. %s\n\n"+
		"  Pages:  %s\n  Broker: mqtt://%s (sensors publish to homes/<home>/sensors/<device>, alerts stand at homes/<home>/alerts/<alert>)\n\n"+
		"Nobody is told of anything: a demo has no people. Stop with Ctrl-C.\n\n", len(t.homes), begins, url, broker)
}

// day says on the third and each tenth day at how many homes all is well.
func (t *teller) day(now time.Time) {
	t.mu.Lock()
	defer t.mu.Unlock()
	day := now.Truncate(24 * time.Hour)
	if !day.After(t.today) {
		return
	}
	t.today = day
	if n := t.days(); n == 3 || n%10 == 0 {
		fmt.Fprintf(t.out, "%s  Day %d: nothing was ever wrong at %d of the %d homes.\n\n", day.Format("2006-01-02"), n, t.quiet(), len(t.homes))
	}
}

func (t *teller) tell(alerts []detect.Alert) {
	t.mu.Lock()
	defer t.mu.Unlock()
	for _, a := range alerts {
		key := toldKey(a.Home, a.ID, a.Open())
		if t.told[key] {
			continue
		}
		t.told[key] = true
		if h := t.homes[a.Home]; !a.Open() {
			fmt.Fprintf(t.out, "%s  %s: %s is over\n\n", a.Cleared.In(h.Location).Format("2006-01-02 15:04"), h.Name, kindWords(a.Kind))
			continue
		}
		printAlert(t.out, a, t.homes[a.Home])
	}
}

func (t *teller) end() {
	t.mu.Lock()
	defer t.mu.Unlock()
	fmt.Fprintln(t.out, "The simulated time is over. The pages stay until Ctrl-C.")
}

// goodbye says what is left of the demo.
func (t *teller) goodbye(data string, kept bool) {
	t.mu.Lock()
	defer t.mu.Unlock()
	if kept {
		fmt.Fprintf(t.out, "\nStopped on day %d. What was stored is kept in %s; the demo goes on from there with --data %[2]s.\n", t.days(), data)
		return
	}
	fmt.Fprintf(t.out, "\nStopped on day %d. Nothing was kept; --data FOLDER would.\n", t.days())
}
