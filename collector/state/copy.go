package state

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"net/url"
	"os"
)

// Copy writes a copy of the state store in the file from to the file to, which is
// not there yet, also while another process writes to it. The copy is of one
// moment.
func Copy(ctx context.Context, from, to string) (err error) {
	db, err := openFile(from)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, db.Close()) }()
	if _, err := db.ExecContext(ctx, `VACUUM INTO ?`, to); err != nil {
		return fmt.Errorf("state store %s: copying: %w", from, err)
	}
	f, err := os.Open(to) // #nosec G304 -- the path is given by whoever runs the command or the service
	if err != nil {
		return err
	}
	return errors.Join(f.Sync(), f.Close())
}

// Check reads all of the state store in a file and says what is wrong with it;
// nothing when it is sound.
func Check(ctx context.Context, path string) (problems []string, err error) {
	return check(ctx, path, `PRAGMA integrity_check(20)`)
}

// QuickCheck is Check without comparing indexes with their tables.
func QuickCheck(ctx context.Context, path string) (problems []string, err error) {
	return check(ctx, path, `PRAGMA quick_check(20)`)
}

func check(ctx context.Context, path, pragma string) (problems []string, err error) {
	db, err := openFile(path)
	if err != nil {
		return nil, err
	}
	defer func() { err = errors.Join(err, db.Close()) }()
	rows, err := db.QueryContext(ctx, pragma)
	if err != nil {
		return []string{err.Error()}, nil // so damaged that it cannot be looked through
	}
	defer func() { err = errors.Join(err, rows.Close()) }()
	for rows.Next() {
		var line string
		if err := rows.Scan(&line); err != nil {
			return problems, err
		}
		if line != "ok" {
			problems = append(problems, line)
		}
	}
	if err := rows.Err(); err != nil {
		problems = append(problems, err.Error())
	}
	return problems, nil
}

// openFile opens a store as it is, which must be there.
func openFile(path string) (*sql.DB, error) {
	if _, err := os.Stat(path); err != nil {
		return nil, fmt.Errorf("state store: %w", err)
	}
	options := url.Values{"mode": {"rw"}, "_pragma": {"busy_timeout(10000)"}}
	db, err := sql.Open("sqlite", "file:"+(&url.URL{Path: path}).EscapedPath()+"?"+options.Encode())
	if err != nil {
		return nil, fmt.Errorf("state store %s: %w", path, err)
	}
	return db, nil
}
