package people

import (
	"context"
	"database/sql"
	"math"

	"brinebell/detect/care"
)

// Note adds to the audit trail, with the time of now.
func (s *Store) Note(ctx context.Context, d care.Deed) error {
	_, err := s.exec(ctx, `INSERT INTO audit (at, person, firm, home, act, subject, detail, address) VALUES (?, ?, ?, ?, ?, ?, ?, ?)`,
		s.now().UnixNano(), d.Person, d.Firm, d.Home, d.Act, d.Subject, d.Detail, d.Address)
	return err
}

// Audit is a part of the audit trail, newest first.
func (s *Store) Audit(ctx context.Context, q care.DeedQuery) (out []care.Deed, err error) {
	if q.Before <= 0 {
		q.Before = math.MaxInt64
	}
	err = s.db.Each(ctx, func(rows *sql.Rows) error {
		var d care.Deed
		var at int64
		err := rows.Scan(&d.ID, &at, &d.Person, &d.Firm, &d.Home, &d.Act, &d.Subject, &d.Detail, &d.Address)
		d.At = stamp(at)
		out = append(out, d)
		return err
	}, `SELECT id, at, person, firm, home, act, subject, detail, address FROM audit
		WHERE id < ? AND ? IN ('', firm) AND ? IN ('', home) ORDER BY id DESC LIMIT ?`, q.Before, q.Firm, q.Home, q.Most)
	return out, err
}
