package people

import (
	"context"
	"database/sql"
	"slices"
	"time"

	"brinebell/detect"
	"brinebell/detect/care"
)

// Person is the person of that id, or care.ErrNone.
func (s *Store) Person(ctx context.Context, id string) (care.Person, error) {
	return one(s.where(ctx, `id = ?`, id))
}

// ByEmail is the person with that address, or care.ErrNone.
func (s *Store) ByEmail(ctx context.Context, email string) (care.Person, error) {
	return one(s.where(ctx, `email = ?`, email))
}

// People are those of a firm, or everybody when it is empty, by name.
func (s *Store) People(ctx context.Context, firm string) ([]care.Person, error) {
	return s.where(ctx, `? IN ('', firm)`, firm)
}

// Operators are those who run the installation.
func (s *Store) Operators(ctx context.Context) ([]care.Person, error) {
	return s.where(ctx, `role = ?`, string(care.Operator))
}

// AtHome are those who may see a home's life and so may be told of it: its
// households, and the technicians and managers of its firm; none disabled.
func (s *Store) AtHome(ctx context.Context, home string) ([]care.Person, error) {
	at, err := s.Place(ctx, home)
	if err != nil {
		return nil, err
	}
	all, err := s.where(ctx, `firm = ?`, at.Firm)
	return slices.DeleteFunc(all, func(p care.Person) bool { return !p.May(care.SeeLife, at) }), err
}

func one(found []care.Person, err error) (care.Person, error) {
	if err == nil && len(found) == 0 {
		err = care.ErrNone
	}
	if err != nil {
		return care.Person{}, err
	}
	return found[0], nil
}

// where are the people of whom a condition holds. The condition is the code's
// own; what comes from outside goes into its arguments.
func (s *Store) where(ctx context.Context, condition string, args ...any) ([]care.Person, error) {
	var out []care.Person
	at := map[string]int{}
	err := s.db.Each(ctx, func(rows *sql.Rows) error {
		var p care.Person
		err := rows.Scan(&p.ID, &p.Firm, &p.Role, &p.Name, &p.Email, &p.Units, &p.Language, &p.Timezone, &p.Disabled)
		at[p.ID] = len(out)
		out = append(out, p)
		return err
	}, `SELECT id, coalesce(firm, ''), role, name, email, units, language, timezone, disabled FROM people WHERE `+condition+` ORDER BY name, id`, args...)
	if err != nil || len(out) == 0 {
		return nil, err
	}
	err = s.db.Each(ctx, func(rows *sql.Rows) error {
		var id, home string
		err := rows.Scan(&id, &home)
		if i, ok := at[id]; ok {
			out[i].Homes = append(out[i].Homes, home)
		}
		return err
	}, `SELECT person, home FROM person_homes WHERE person IN (SELECT id FROM people WHERE `+condition+`) ORDER BY home`, args...)
	if err != nil {
		return nil, err
	}
	return out, s.db.Each(ctx, func(rows *sql.Rows) error {
		var id string
		var from, to int64
		var least string
		var c care.Channel
		err := rows.Scan(&id, &c.Kind, &c.Target, &c.Secret, &from, &to, &least, &c.Digest)
		c.From, c.To, c.Least = time.Duration(from), time.Duration(to), detect.Severity(least)
		if i, ok := at[id]; ok {
			out[i].Channels = append(out[i].Channels, c)
		}
		return err
	}, `SELECT person, kind, target, secret, "from", "to", least, digest FROM channels
		WHERE person IN (SELECT id FROM people WHERE `+condition+`) ORDER BY person, position`, args...)
}
