package people

import (
	"context"
	"database/sql"
	"errors"
	"time"

	"brinebell/detect/care"
)

// account is how a person signs in. Whoever signed in during an earlier epoch
// of it is signed out.
type account struct {
	id       string
	password sql.NullString
	epoch    int64
	disabled bool
}

// SignIn checks an address with its password. Whatever does not fit, the answer
// is care.ErrWrong, and takes as long as if all had fitted: it tells nobody
// which addresses there are.
func (s *Store) SignIn(ctx context.Context, email, password string) (p care.Person, epoch int64, err error) {
	a, err := s.account(ctx, `email = ?`, email)
	if err != nil && !errors.Is(err, care.ErrNone) {
		return p, 0, err
	}
	known := err == nil && a.password.Valid && !a.disabled
	hash := a.password.String
	if !known {
		if hash, err = s.nobody(ctx); err != nil {
			return p, 0, err
		}
	}
	ok, err := s.matches(ctx, password, hash)
	if err != nil {
		return p, 0, err
	}
	if !ok || !known {
		return p, 0, care.ErrWrong
	}
	p, err = s.Person(ctx, a.id)
	return p, a.epoch, err
}

// nobody is the hash of a password that nobody has, at the present cost.
func (s *Store) nobody(ctx context.Context) (string, error) {
	s.nobodyOnce.Lock()
	defer s.nobodyOnce.Unlock()
	var err error
	if s.nobodyHash == "" {
		s.nobodyHash, err = s.hash(ctx, newSecret())
	}
	return s.nobodyHash, err
}

// Current is the person who signed in during an epoch; care.ErrWrong when the
// account is gone, disabled or of a later epoch.
func (s *Store) Current(ctx context.Context, id string, epoch int64) (care.Person, error) {
	a, err := s.account(ctx, `id = ?`, id)
	if errors.Is(err, care.ErrNone) || err == nil && (a.epoch != epoch || a.disabled) {
		return care.Person{}, care.ErrWrong
	}
	if err != nil {
		return care.Person{}, err
	}
	return s.Person(ctx, id)
}

// SetPassword gives a person a password, and ends every session and unused link
// of theirs. The error says what is wrong with the password, if anything.
func (s *Store) SetPassword(ctx context.Context, id, password string) error {
	if err := CheckPassword(password); err != nil {
		return bad(err)
	}
	hash, err := s.hash(ctx, password)
	if err != nil {
		return err
	}
	return s.db.Transact(ctx, func(tx *sql.Tx) error { return setPassword(ctx, tx, id, hash, s.now()) })
}

func setPassword(ctx context.Context, tx *sql.Tx, id, hash string, now time.Time) error {
	result, err := tx.ExecContext(ctx, `UPDATE people SET password = ?, epoch = epoch + 1, updated = ? WHERE id = ?`, hash, now.UnixNano(), id)
	if err != nil {
		return err
	}
	if n, err := result.RowsAffected(); err != nil || n == 0 {
		return errors.Join(err, care.ErrNone)
	}
	_, err = tx.ExecContext(ctx, `DELETE FROM links WHERE person = ?`, id)
	return err
}

func (s *Store) account(ctx context.Context, condition string, arg any) (a account, err error) {
	found := false
	err = s.db.Each(ctx, func(rows *sql.Rows) error {
		found = true
		return rows.Scan(&a.id, &a.password, &a.epoch, &a.disabled)
	}, `SELECT id, password, epoch, disabled FROM people WHERE `+condition, arg)
	if err == nil && !found {
		err = care.ErrNone
	}
	return a, err
}
