package access

import (
	"net/netip"
	"strings"
	"sync"
	"time"
)

// limit is how many attempts may fail in a row before each must wait, how long
// at first and at most. The wait doubles with each further failure.
type limit struct {
	free        int
	first, most time.Duration
}

var (
	// perPair is of one account from one address: somebody who mistypes.
	perPair = limit{5, 30 * time.Second, time.Hour}
	// perAccount is of one account from anywhere. NIST SP 800-63B-4, section
	// 3.2.2, allows at most 100 failures in a row; and it must be many, or
	// anybody could keep anybody out.
	perAccount = limit{50, time.Minute, time.Hour}
	// perAddress is of one address for any accounts: a firm behind one address
	// mistypes more often than a person.
	perAddress = limit{30, 10 * time.Second, 15 * time.Minute}
)

const (
	// forgetAfter is when failures are forgotten.
	forgetAfter = 24 * time.Hour
	// maxTracked bounds the memory. Those that may try again soonest are
	// forgotten first.
	maxTracked = 20000
)

// Throttle slows down guessing. Each attempt counts as a failure from its
// beginning, so that many at once are no way round it.
type Throttle struct {
	now func() time.Time

	mu     sync.Mutex
	failed map[string]failures // guarded by mu
}

type failures struct {
	count int
	last  time.Time
	until time.Time // before which no attempt is let through
}

// NewThrottle makes a throttle that has seen nothing.
func NewThrottle(now func() time.Time) *Throttle {
	return &Throttle{now: now, failed: map[string]failures{}}
}

// key is one thing that is counted, with its limit.
type key struct {
	name  string
	limit limit
}

func keysOf(account string, address netip.Addr) [3]key {
	account = strings.ToLower(strings.TrimSpace(account))
	where := network(address)
	return [3]key{{"b " + account + " " + where, perPair}, {"a " + account, perAccount}, {"n " + where, perAddress}}
}

// network is what one subscriber has: an IPv4 address, or the /64 of an IPv6
// one.
func network(a netip.Addr) string {
	a = a.Unmap()
	if a.Is6() {
		if p, err := a.Prefix(64); err == nil {
			return p.String()
		}
	}
	return a.String()
}

// Try begins an attempt. When wait is more than nothing the attempt must not be
// made before that has passed.
func (t *Throttle) Try(account string, address netip.Addr) (wait time.Duration) {
	t.mu.Lock()
	defer t.mu.Unlock()
	now := t.now()
	keys := keysOf(account, address)
	for _, k := range keys {
		wait = max(wait, t.failed[k.name].until.Sub(now))
	}
	if wait > 0 {
		return wait
	}
	for _, k := range keys {
		t.fail(k, now)
	}
	return 0
}

// fail counts a failure. Called with mu held.
func (t *Throttle) fail(k key, now time.Time) {
	f, ok := t.failed[k.name]
	if !ok && len(t.failed) >= maxTracked {
		t.makeRoom(now)
	}
	if now.Sub(f.last) > forgetAfter {
		f = failures{}
	}
	f.count++
	f.last = now
	if over := f.count - k.limit.free; over >= 0 {
		f.until = now.Add(k.limit.wait(over))
	}
	t.failed[k.name] = f
}

func (l limit) wait(over int) time.Duration {
	wait := l.first
	for range over {
		if wait >= l.most {
			break
		}
		wait *= 2
	}
	return min(wait, l.most)
}

// Succeeded ends an attempt that proved right: the account's failures are
// forgotten, and the address has one less.
func (t *Throttle) Succeeded(account string, address netip.Addr) {
	t.mu.Lock()
	defer t.mu.Unlock()
	keys := keysOf(account, address)
	delete(t.failed, keys[0].name)
	delete(t.failed, keys[1].name)
	if f, ok := t.failed[keys[2].name]; ok {
		f.count--
		f.until = time.Time{}
		t.failed[keys[2].name] = f
	}
}

// makeRoom forgets what has expired, or else a tenth. Called with mu held.
func (t *Throttle) makeRoom(now time.Time) {
	for name, f := range t.failed {
		if now.Sub(f.last) > forgetAfter {
			delete(t.failed, name)
		}
	}
	for name, f := range t.failed {
		if len(t.failed) < maxTracked*9/10 {
			return
		}
		if !f.until.After(now) {
			delete(t.failed, name)
		}
	}
	for name := range t.failed { // all of them wait: somebody with very many addresses
		if len(t.failed) < maxTracked*9/10 {
			return
		}
		delete(t.failed, name)
	}
}
