package people

import (
	"context"
	"database/sql"
	"errors"
	"regexp"
	"strings"

	"brinebell/detect/care"
)

var firmID = regexp.MustCompile(`^[a-z0-9]([a-z0-9-]{0,38}[a-z0-9])?$`)

// maxName bounds names, in bytes.
const maxName = 120

// AddFirm adds a firm.
func (s *Store) AddFirm(ctx context.Context, f care.Firm) error {
	if err := checkFirm(f); err != nil {
		return bad(err)
	}
	return s.must(ctx, `INSERT INTO firms (id, name, created) VALUES (?, ?, ?)`, f.ID, f.Name, s.now().UnixNano())
}

func checkFirm(f care.Firm) error {
	if !firmID.MatchString(f.ID) {
		return errors.New("a firm's id is up to 40 small letters, digits and hyphens, as in north-shore")
	}
	return checkName(f.Name)
}

func checkName(name string) error {
	if strings.TrimSpace(name) == "" || len(name) > maxName || strings.ContainsFunc(name, func(r rune) bool { return r < ' ' || r == 0x7f }) {
		return errors.New("a name is one line of 1 to 120 bytes")
	}
	return nil
}

// RenameFirm gives a firm another name.
func (s *Store) RenameFirm(ctx context.Context, f care.Firm) error {
	if err := checkFirm(f); err != nil {
		return bad(err)
	}
	return s.must(ctx, `UPDATE firms SET name = ? WHERE id = ?`, f.Name, f.ID)
}

// Firms are all firms in order of their ids.
func (s *Store) Firms(ctx context.Context) (out []care.Firm, err error) {
	err = s.db.Each(ctx, func(rows *sql.Rows) error {
		var f care.Firm
		err := rows.Scan(&f.ID, &f.Name)
		out = append(out, f)
		return err
	}, `SELECT id, name FROM firms ORDER BY id`)
	return out, err
}

// Firm is the firm of that id, or care.ErrNone.
func (s *Store) Firm(ctx context.Context, id string) (care.Firm, error) {
	all, err := s.Firms(ctx)
	for _, f := range all {
		if f.ID == id {
			return f, nil
		}
	}
	if err == nil {
		err = care.ErrNone
	}
	return care.Firm{}, err
}
