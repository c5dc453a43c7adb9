package people

import (
	"context"
	"database/sql"

	"brinebell/detect/care"
)

// Place is where a home belongs, or care.ErrNone when there is no such home.
func (s *Store) Place(ctx context.Context, home string) (care.Place, error) {
	all, err := s.places(ctx, `id = ?`, home)
	if err != nil {
		return care.Place{}, err
	}
	if len(all) == 0 {
		return care.Place{}, care.ErrNone
	}
	return all[0], nil
}

// Places are all homes' places, in order of the homes' ids.
func (s *Store) Places(ctx context.Context) ([]care.Place, error) {
	return s.places(ctx, `? = ''`, "")
}

func (s *Store) places(ctx context.Context, condition, arg string) (out []care.Place, err error) {
	err = s.db.Each(ctx, func(rows *sql.Rows) error {
		var p care.Place
		err := rows.Scan(&p.Home, &p.Firm, &p.Area)
		out = append(out, p)
		return err
	}, `SELECT id, coalesce(firm, ''), area FROM homes WHERE `+condition+` ORDER BY id`, arg)
	return out, err
}

// SetPlace puts a home under a firm, which must be there, and in an area.
func (s *Store) SetPlace(ctx context.Context, p care.Place) error {
	if p.Firm != "" {
		if _, err := s.Firm(ctx, p.Firm); err != nil {
			return err
		}
	}
	if p.Area != "" {
		if err := checkName(p.Area); err != nil {
			return bad(err)
		}
	}
	return s.must(ctx, `UPDATE homes SET firm = nullif(?, ''), area = ? WHERE id = ?`, p.Firm, p.Area, p.Home)
}
