package web

import (
	"cmp"
	"context"
	"math"
	"slices"
	"strings"
	"time"

	"brinebell/detect"
	"brinebell/detect/books"
)

// standing is all that the pages of many homes say of one: worked out ahead, so
// that a page of ten thousand homes only chooses and writes.
type standing struct {
	home        detect.Home
	firm, area  string
	cond        condition
	now         time.Time // of the newest reading, as of read; zero when there is none
	books       books.Books
	booked      bool    // books are known
	battery     float64 // the weakest sensor's, per cent; NaN when none tells
	cases       []Case
	find        string            // in small letters, what a search looks in
	likeliest   detect.CauseShare // cause of the worst that is wrong; empty when none is known
	cost        float64           // of a day of waiting
	salt, rinse float64           // efficiency of salt and regeneration water; NaN not known
	read        time.Time
}

// sum works out what follows from the rest.
func (h *standing) sum() {
	for _, c := range h.cases {
		h.cost += c.Loss.PerDay
	}
	for _, a := range h.cond.open {
		if causes := ranked(a); len(causes) > 0 {
			h.likeliest = causes[0]
			break
		}
	}
	h.salt, h.rinse = math.NaN(), math.NaN()
	if h.booked {
		h.salt, h.rinse = saltEfficiency(h), waterEfficiency(h)
	}
}

// board is all homes at one moment, the most pressing first. It is never
// changed: a newer one takes its place.
type board struct {
	homes []standing
	byID  map[string]*standing
	salt  []*standing // by area, then by the day on which the salt may run out
}

// What costs something to make is spread over a time that grows with the homes:
// a home's books, and with them its newest reading, are read again every
// booksEach for each home that there is, at most booksFresh; and after a change
// a board rests for restEach for each. So the boards of ten thousand homes take
// some hundredths of a processor, and a few homes are fresh at every turn.
const (
	booksFresh = 5 * time.Minute
	booksEach  = 20 * time.Millisecond
	restEach   = 500 * time.Microsecond
)

// boardEvery is how often the board is made anew when nothing is said to have
// changed, so that a home that has gone silent shows.
const boardEvery = 10 * time.Second

// Run keeps the board of all homes fresh until ctx ends. Without it each page
// makes the board that it needs, which is well for a few homes.
func (s *Server) Run(ctx context.Context) error {
	hints := s.Source.Changes(ctx)
	every := time.NewTicker(boardEvery)
	defer every.Stop()
	first := make(chan struct{}) // closed with the first board
	s.coming.Store(&first)
	defer func() { s.coming.Store(nil); s.kept.Store(nil) }()
	for {
		b, err := s.makeBoard(ctx, s.kept.Load())
		switch {
		case ctx.Err() != nil:
			return nil
		case err != nil:
			s.Logger.Error("board not made", "error", err)
		case s.kept.Swap(b) == nil:
			close(first)
		}
		select {
		case <-ctx.Done():
			return nil
		case <-every.C:
		case _, ok := <-hints:
			if !ok {
				hints = nil
			}
			s.settle(ctx, len(s.Source.Homes()))
		}
	}
}

// settle waits, so that many changes make one board.
func (s *Server) settle(ctx context.Context, homes int) {
	pause := time.NewTimer(max(s.MinInterval, time.Duration(homes)*restEach))
	defer pause.Stop()
	select {
	case <-pause.C:
	case <-ctx.Done():
	}
}

// firstBoard is how long a page waits for the first board that Run makes, before
// it makes its own: many pages that each make one would only delay it.
const firstBoard = 20 * time.Second

// board is the kept one, or one made for this request.
func (s *Server) board(ctx context.Context) (*board, error) {
	if first := s.coming.Load(); first != nil {
		late := time.NewTimer(firstBoard)
		defer late.Stop()
		select {
		case <-*first:
		case <-ctx.Done():
			return nil, ctx.Err()
		case <-late.C:
		}
	}
	if b := s.kept.Load(); b != nil {
		return b, nil
	}
	return s.makeBoard(ctx, nil)
}

// homeByID is a home's profile.
func (s *Server) homeByID(id string) (detect.Home, bool) {
	if b := s.kept.Load(); b != nil {
		if h := b.byID[id]; h != nil {
			return h.home, true
		}
	}
	for _, h := range s.Source.Homes() {
		if h.ID == id {
			return h, true
		}
	}
	return detect.Home{}, false
}

// makeBoard reads all homes; books that are fresh are taken from the board
// before.
func (s *Server) makeBoard(ctx context.Context, before *board) (*board, error) {
	alerts, err := s.openAlerts(ctx)
	if err != nil {
		return nil, err
	}
	cases, err := s.openCases(ctx)
	if err != nil {
		return nil, err
	}
	homes, wall, clock := s.Source.Homes(), s.present(), time.Now()
	b := &board{homes: make([]standing, len(homes)), byID: make(map[string]*standing, len(homes))}
	for i, h := range homes {
		n := &b.homes[i]
		n.home, n.cases = h, cases[h.ID]
		if s.People != nil {
			n.firm, n.area = s.People.Place(h.ID)
		}
		n.find = strings.ToLower(nameOf(h) + " " + h.ID + " " + n.area)
		s.readBooks(ctx, n, before, clock, i, len(homes))
		n.cond = conditionOf(alerts[h.ID], n.now, wall, s.SilentAfter)
		n.sum()
	}
	slices.SortStableFunc(b.homes, pressing)
	for i := range b.homes {
		b.byID[b.homes[i].home.ID] = &b.homes[i]
		b.salt = append(b.salt, &b.homes[i])
	}
	slices.SortStableFunc(b.salt, func(x, y *standing) int {
		return cmp.Or(cmp.Compare(x.area, y.area), x.books.RunsOut.Early.Compare(y.books.RunsOut.Early))
	})
	return b, nil
}

// readBooks spreads the homes over booksFresh, so that no board is made of all
// books at once but the first.
func (s *Server) readBooks(ctx context.Context, n *standing, before *board, clock time.Time, i, homes int) {
	fresh := min(booksFresh, time.Duration(homes)*booksEach)
	if before != nil {
		if old := before.byID[n.home.ID]; old != nil && old.booked && clock.Sub(old.read) < fresh {
			n.now, n.books, n.booked, n.battery, n.read = old.now, old.books, old.booked, old.battery, old.read
			return
		}
	}
	n.books, n.booked = s.Source.Books(ctx, n.home.ID)
	if n.now = n.books.At; !n.booked || n.now.IsZero() { // the books know the newest minute, which costs less to ask
		n.now = s.Source.Now(n.home.ID)
	}
	n.battery = s.weakest(ctx, n.home.ID, n.now)
	n.read = clock
	if before == nil { // the first time: as if read at different moments
		n.read = clock.Add(-time.Duration(i%60) * fresh / 60)
	}
}

// weakest is the least battery that a home's sensors told of lately, per cent.
func (s *Server) weakest(ctx context.Context, home string, now time.Time) float64 {
	if now.IsZero() {
		return math.NaN()
	}
	points, err := s.Source.Points(ctx, home, detect.Battery, now.Add(-heardWithin), now.Add(time.Second), 1)
	if err != nil || len(points) == 0 {
		return math.NaN()
	}
	return points[0].Min
}

func (s *Server) openAlerts(ctx context.Context) (map[string][]detect.Alert, error) {
	alerts, err := s.Source.Alerts(ctx, "")
	if err != nil {
		return nil, err
	}
	open := make(map[string][]detect.Alert)
	for _, a := range alerts {
		if a.Open() {
			open[a.Home] = append(open[a.Home], a)
		}
	}
	return open, nil
}

func (s *Server) openCases(ctx context.Context) (map[string][]Case, error) {
	if s.Cases == nil {
		return nil, nil
	}
	list, err := s.Cases.Open(ctx, nil)
	if err != nil {
		return nil, err
	}
	open := make(map[string][]Case)
	for _, c := range list {
		open[c.Home] = append(open[c.Home], c)
	}
	return open, nil
}

// pressing orders homes: where water or damage runs now first, then by what a
// day of waiting costs, then by how they are, how long, and their names.
func pressing(a, b standing) int {
	now := func(h standing) int {
		if h.cond.Level == actNow {
			return 0
		}
		return 1
	}
	return cmp.Or(cmp.Compare(now(a), now(b)), cmp.Compare(b.cost, a.cost), cmp.Compare(a.cond.Level, b.cond.Level),
		olderFirst(a.cond, b.cond), strings.Compare(nameOf(a.home), nameOf(b.home)))
}

func olderFirst(a, b condition) int {
	if len(a.open) == 0 || len(b.open) == 0 {
		return 0
	}
	return a.open[0].Onset.Compare(b.open[0].Onset)
}

func nameOf(h detect.Home) string {
	if strings.TrimSpace(h.Name) == "" {
		return h.ID
	}
	return h.Name
}

// seen are the homes of the board whose life the asker may see, in its order.
func (s *Server) seen(ctx context.Context, b *board) []*standing {
	a := askerOf(ctx)
	out := make([]*standing, 0, len(b.homes))
	for i := range b.homes {
		if h := &b.homes[i]; s.shows(a, h) {
			out = append(out, h)
		}
	}
	return out
}

// shows says whether the asker may see the life of a home on the board.
func (s *Server) shows(a asker, h *standing) bool { return s.Viewer == nil || a.known && a.sees(h) }
