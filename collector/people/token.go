package people

import (
	"context"
	"crypto/rand"
	"database/sql"
	"fmt"
	"slices"
	"strings"
	"time"

	"brinebell/detect/care"
)

// TokenPrefix begins every token, so that one that was left lying about can be
// recognised.
const TokenPrefix = "brinebell_"

const (
	// MaxTokenTime is the longest that a token may be good for.
	MaxTokenTime = 366 * 24 * time.Hour
	// maxTokens of one person.
	maxTokens = 50
)

// AddToken makes a token of t's person, name, scope and expiry. The secret is
// what to send; it cannot be had again.
func (s *Store) AddToken(ctx context.Context, t care.Token) (made care.Token, secret string, err error) {
	t.ID, t.Created, t.Used = strings.ToLower(rand.Text()), s.now().UTC(), time.Time{}
	if err := checkName(t.Name); err != nil {
		return t, "", bad(err)
	}
	switch life := t.Expires.Sub(t.Created); {
	case !slices.Contains(care.Scopes(), t.Scope):
		return t, "", fmt.Errorf("%w: the scope %q is not one of read, write and devices", care.ErrBad, t.Scope)
	case life <= 0 || life > MaxTokenTime:
		return t, "", fmt.Errorf("%w: a token expires within a year from now", care.ErrBad)
	}
	secret = TokenPrefix + newSecret()
	return t, secret, s.db.Transact(ctx, func(tx *sql.Tx) error {
		var n int
		if err := tx.QueryRowContext(ctx, `SELECT count(*) FROM tokens WHERE person = ? AND expires > ?`, t.Person, t.Created.UnixNano()).Scan(&n); err != nil {
			return err
		}
		if n >= maxTokens {
			return fmt.Errorf("%w: there are %d tokens already; remove one first", care.ErrBad, n)
		}
		_, err := tx.ExecContext(ctx, `INSERT INTO tokens (id, hash, person, name, scope, created, expires) VALUES (?, ?, ?, ?, ?, ?, ?)`,
			t.ID, fingerprint(secret), t.Person, t.Name, string(t.Scope), t.Created.UnixNano(), t.Expires.UnixNano())
		return err
	})
}

// Tokens are a person's tokens, oldest first, expired ones among them.
func (s *Store) Tokens(ctx context.Context, person string) ([]care.Token, error) {
	return s.tokens(ctx, `person = ?`, person)
}

func (s *Store) tokens(ctx context.Context, condition string, args ...any) (out []care.Token, err error) {
	err = s.db.Each(ctx, func(rows *sql.Rows) error {
		var t care.Token
		var created, expires, used int64
		err := rows.Scan(&t.ID, &t.Person, &t.Name, &t.Scope, &created, &expires, &used)
		t.Created, t.Expires, t.Used = stamp(created), stamp(expires), stamp(used)
		out = append(out, t)
		return err
	}, `SELECT id, person, name, scope, created, expires, coalesce(used, 0) FROM tokens WHERE `+condition+` ORDER BY created, id`, args...)
	return out, err
}

// RemoveToken removes a token of a person.
func (s *Store) RemoveToken(ctx context.Context, person, id string) error {
	return s.must(ctx, `DELETE FROM tokens WHERE person = ? AND id = ?`, person, id)
}

// ByToken is the person for whom a token acts, and the token; care.ErrWrong
// when it is not known, has expired, or the person is disabled.
func (s *Store) ByToken(ctx context.Context, secret string) (p care.Person, t care.Token, err error) {
	now := s.now()
	found, err := s.tokens(ctx, `hash = ? AND expires > ?`, fingerprint(secret), now.UnixNano())
	if err != nil {
		return p, t, err
	}
	if len(found) == 0 {
		return p, t, care.ErrWrong
	}
	t = found[0]
	if p, err = s.Person(ctx, t.Person); err != nil {
		return p, t, err
	}
	if p.Disabled {
		return care.Person{}, t, care.ErrWrong
	}
	if hour := now.Truncate(time.Hour); !t.Used.Equal(hour) { // not a write for each request
		_, err = s.exec(ctx, `UPDATE tokens SET used = ? WHERE id = ?`, hour.UnixNano(), t.ID)
	}
	return p, t, err
}
