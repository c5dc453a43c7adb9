package people

import (
	"context"
	"crypto/rand"
	"crypto/sha256"
	"database/sql"
	"errors"
	"time"

	"brinebell/detect/care"
)

// How long a link is good for.
const (
	// InviteTime leaves a weekend between a mail and its being read.
	InviteTime = 4 * 24 * time.Hour
	// ResetTime is for somebody who sits at the keyboard and waits for the mail.
	ResetTime = time.Hour
)

// newSecret is a random text of at least 128 bits.
func newSecret() string { return rand.Text() }

// fingerprint is what is kept of a secret that is random: nothing can be
// guessed from it, so it needs no slow hash.
func fingerprint(secret string) []byte {
	sum := sha256.Sum256([]byte(secret))
	return sum[:]
}

// Invite makes a link for a person to set a password by, in place of any that
// they had, and returns its secret part.
func (s *Store) Invite(ctx context.Context, id string, valid time.Duration) (secret string, err error) {
	if _, err := s.Person(ctx, id); err != nil {
		return "", err
	}
	secret = newSecret()
	now := s.now()
	return secret, s.db.Transact(ctx, func(tx *sql.Tx) error {
		if _, err := tx.ExecContext(ctx, `DELETE FROM links WHERE person = ? OR expires <= ?`, id, now.UnixNano()); err != nil {
			return err
		}
		_, err := tx.ExecContext(ctx, `INSERT INTO links (hash, person, created, expires) VALUES (?, ?, ?, ?)`,
			fingerprint(secret), id, now.UnixNano(), now.Add(valid).UnixNano())
		return err
	})
}

// ByLink is whose link it is, if it can still be used; else care.ErrWrong. It
// does not use it up: programs that look at mail open links too.
func (s *Store) ByLink(ctx context.Context, secret string) (care.Person, error) {
	found, err := s.where(ctx, `disabled = 0 AND id IN (SELECT person FROM links WHERE hash = ? AND expires > ?)`, fingerprint(secret), s.now().UnixNano())
	p, err := one(found, err)
	if errors.Is(err, care.ErrNone) {
		err = care.ErrWrong
	}
	return p, err
}

// UseLink sets the password of the person whose link it is, once. A password
// that will not do, which the error says with care.ErrBad, does not use the link
// up.
func (s *Store) UseLink(ctx context.Context, secret, password string) (p care.Person, epoch int64, err error) {
	if err := CheckPassword(password); err != nil {
		return p, 0, bad(err)
	}
	if p, err = s.ByLink(ctx, secret); err != nil { // before the costly hash
		return p, 0, err
	}
	hash, err := s.hash(ctx, password)
	if err != nil {
		return p, 0, err
	}
	err = s.db.Transact(ctx, func(tx *sql.Tx) error {
		result, err := tx.ExecContext(ctx, `DELETE FROM links WHERE hash = ? AND person = ? AND expires > ?`, fingerprint(secret), p.ID, s.now().UnixNano())
		if err != nil {
			return err
		}
		if n, err := result.RowsAffected(); err != nil || n == 0 {
			return errors.Join(err, care.ErrWrong) // another was quicker
		}
		return setPassword(ctx, tx, p.ID, hash, s.now())
	})
	if err != nil {
		return p, 0, err
	}
	a, err := s.account(ctx, `id = ?`, p.ID)
	return p, a.epoch, err
}

// FirstLink is a link for the first operator, while no operator can sign in; ok
// is false from then on. Another call makes the earlier link void.
func (s *Store) FirstLink(ctx context.Context) (secret string, ok bool, err error) {
	able, err := s.where(ctx, `role = ? AND disabled = 0 AND password IS NOT NULL`, string(care.Operator))
	if err != nil || len(able) > 0 {
		return "", false, err
	}
	first, err := s.where(ctx, `role = ? AND disabled = 0`, string(care.Operator))
	if err != nil {
		return "", false, err
	}
	if len(first) == 0 {
		p, err := s.Add(ctx, care.Person{Role: care.Operator, Name: "Operator", Email: care.Newcomer})
		if err != nil {
			return "", false, err
		}
		first = append(first, p)
	}
	secret, err = s.Invite(ctx, first[0].ID, InviteTime)
	return secret, err == nil, err
}

// Introduce says who the first operator is, whose link it is. It does not use
// the link up.
func (s *Store) Introduce(ctx context.Context, secret, name, email string) error {
	p, err := s.ByLink(ctx, secret)
	if err != nil {
		return err
	}
	if p.Email != care.Newcomer {
		return care.ErrWrong
	}
	p.Name, p.Email = name, email
	return s.Change(ctx, p)
}
