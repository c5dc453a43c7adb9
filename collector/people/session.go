package people

import (
	"context"
	"database/sql"
	"time"
)

// Sessions keeps sessions of scs, under the hash of their tokens.
type Sessions struct{ store *Store }

// Sessions are where web sessions are kept.
func (s *Store) Sessions() *Sessions { return &Sessions{s} }

// FindCtx gives a session that has not expired.
func (s *Sessions) FindCtx(ctx context.Context, token string) (data []byte, found bool, err error) {
	err = s.store.db.Each(ctx, func(rows *sql.Rows) error {
		found = true
		return rows.Scan(&data)
	}, `SELECT data FROM sessions WHERE hash = ? AND expires > ?`, fingerprint(token), s.store.now().UnixNano())
	return data, found, err
}

// CommitCtx keeps a session, and forgets those that have expired.
func (s *Sessions) CommitCtx(ctx context.Context, token string, data []byte, expiry time.Time) error {
	return s.store.db.Transact(ctx, func(tx *sql.Tx) error {
		if _, err := tx.ExecContext(ctx, `DELETE FROM sessions WHERE expires <= ?`, s.store.now().UnixNano()); err != nil {
			return err
		}
		_, err := tx.ExecContext(ctx, `INSERT INTO sessions (hash, data, expires) VALUES (?, ?, ?)
			ON CONFLICT (hash) DO UPDATE SET data = excluded.data, expires = excluded.expires`, fingerprint(token), data, expiry.UnixNano())
		return err
	})
}

// DeleteCtx forgets a session.
func (s *Sessions) DeleteCtx(ctx context.Context, token string) error {
	_, err := s.store.exec(ctx, `DELETE FROM sessions WHERE hash = ?`, fingerprint(token))
	return err
}

// Find is FindCtx, for the library's older interface.
func (s *Sessions) Find(token string) ([]byte, bool, error) {
	return s.FindCtx(context.Background(), token)
}

// Commit is CommitCtx, for the library's older interface.
func (s *Sessions) Commit(token string, data []byte, expiry time.Time) error {
	return s.CommitCtx(context.Background(), token, data, expiry)
}

// Delete is DeleteCtx, for the library's older interface.
func (s *Sessions) Delete(token string) error { return s.DeleteCtx(context.Background(), token) }
