package casebook

import (
	"context"
	"database/sql"
	"encoding/base64"
	"encoding/json"
	"fmt"
	"strconv"
	"strings"
	"time"

	"brinebell/collector/state"
	"brinebell/detect/care"
)

// Order is the order of a list.
type Order string

// The orders.
const (
	ByLoss   Order = ""       // what a day of waiting costs, the dearest first
	ByChange Order = "change" // what changed last first
)

// The numbers of cases on a page.
const (
	DefaultLimit = 50
	MaxLimit     = 200
)

// Query says which cases to list, how many and from where on.
type Query struct {
	Homes  []string     // only those of these homes; nil for every home
	Stages []care.Stage // nil for all but closed
	Since  time.Time    // only those that changed then or later, by the clock; zero for ever
	Order  Order
	After  string // Page.Next of the page before
	Limit  int    // DefaultLimit when 0, at most MaxLimit
}

// Page is some cases, each with its last step only. Cases that went into others
// are not among them.
type Page struct {
	Cases []Case
	Next  string // for Query.After; empty on the last page
}

// List lists cases. A case that changes between two pages may be on both or on
// neither.
func (b *Book) List(ctx context.Context, q Query) (Page, error) {
	limit := q.Limit
	if limit <= 0 {
		limit = DefaultLimit
	}
	limit = min(limit, MaxLimit)
	where, order, args, err := q.sql()
	if err != nil {
		return Page{}, err
	}
	var page Page
	err = b.opts.State.View(ctx, func(v state.Querier) error {
		query := `SELECT ` + caseColumns + ` FROM cases WHERE ` + where + ` ORDER BY ` + order + ` LIMIT ` + strconv.Itoa(limit+1)
		err := rows(ctx, v, func(r *sql.Rows) error {
			var c Case
			err := c.scan(r)
			page.Cases = append(page.Cases, c)
			return err
		}, query, args...)
		if err != nil {
			return err
		}
		if len(page.Cases) > limit {
			page.Cases = page.Cases[:limit]
			page.Next = cursor(q.Order, page.Cases[limit-1])
		}
		return complete(ctx, v, page.Cases)
	})
	for i := range page.Cases {
		if err == nil {
			err = b.addWatch(ctx, &page.Cases[i])
		}
	}
	return page, err
}

// complete adds to cases their alerts and last steps.
func complete(ctx context.Context, v state.Querier, cases []Case) error {
	for i := range cases {
		c := &cases[i]
		if err := c.loadAlerts(ctx, v); err != nil {
			return err
		}
		err := rows(ctx, v, func(r *sql.Rows) error {
			s, err := scanStep(r)
			c.Steps = []care.Step{s}
			return err
		}, `SELECT `+stepColumns+` FROM steps WHERE seq = ?`, c.Version)
		if err != nil {
			return err
		}
	}
	return nil
}

// sql is the query's condition and order.
func (q Query) sql() (where, order string, args []any, err error) {
	where = `joined = ''`
	add := func(condition string, values ...any) {
		where += ` AND ` + condition
		args = append(args, values...)
	}
	if q.Homes != nil {
		add(`home IN (SELECT value FROM json_each(?))`, list(q.Homes))
	}
	if q.Stages != nil {
		add(`stage IN (SELECT value FROM json_each(?))`, list(q.Stages))
	} else {
		add(`stage <> ?`, string(care.Closed))
	}
	if !q.Since.IsZero() {
		add(`changed >= ?`, q.Since.UnixNano())
	}
	order = `per_day DESC, id`
	if q.Order == ByChange {
		order = `version DESC`
	}
	if q.After == "" {
		return where, order, args, nil
	}
	number, id, err := parseCursor(q.Order, q.After)
	if q.Order == ByChange {
		add(`version < ?`, int64(number))
	} else {
		add(`(per_day < ? OR per_day = ? AND id > ?)`, number, number, id)
	}
	return where, order, args, err
}

// list is a list as JSON, which SQLite reads; an empty one holds nothing.
func list[T ~string](values []T) string {
	b, _ := json.Marshal(values) // strings always can be
	return string(b)
}

// cursor marks where a page ends.
func cursor(o Order, last Case) string {
	number := strconv.FormatFloat(last.Loss.PerDay, 'g', -1, 64)
	if o == ByChange {
		number = strconv.FormatInt(last.Version, 10)
	}
	return base64.RawURLEncoding.EncodeToString(fmt.Appendf(nil, "%s|%s|%s", o, number, last.ID))
}

func parseCursor(o Order, mark string) (number float64, id string, err error) {
	b, err := base64.RawURLEncoding.DecodeString(mark)
	parts := strings.Split(string(b), "|")
	if err != nil || len(parts) != 3 || parts[0] != string(o) {
		return 0, "", ErrCursor
	}
	if number, err = strconv.ParseFloat(parts[1], 64); err != nil {
		return 0, "", ErrCursor
	}
	return number, parts[2], nil
}

// Counts are the numbers of cases of these homes by stage; of every home when
// homes is nil.
func (b *Book) Counts(ctx context.Context, homes []string) (map[care.Stage]int, error) {
	out := map[care.Stage]int{}
	err := b.opts.State.Each(ctx, func(r *sql.Rows) error {
		var stage care.Stage
		var n int
		err := r.Scan(&stage, &n)
		out[stage] = n
		return err
	}, `SELECT stage, count(*) FROM cases WHERE joined = '' AND (? OR home IN (SELECT value FROM json_each(?))) GROUP BY stage`, homes == nil, list(homes))
	return out, err
}
