package state

import (
	"database/sql"
	"errors"
	"fmt"
	"net/url"
	"os"
	"time"
)

// ErrOlder is a store in the form of an older version, which Open brings up.
var ErrOlder = errors.New("the store is of an older version")

// OpenToRead opens the state store for reading alone, also while another process
// writes to it. It makes and changes nothing: there must be a store, in the
// newest form, else the error is fs.ErrNotExist or ErrOlder.
func OpenToRead(path string) (*DB, error) {
	if _, err := os.Stat(path); err != nil {
		return nil, fmt.Errorf("state store: %w", err)
	}
	options := url.Values{"mode": {"ro"}, "_pragma": {"busy_timeout(10000)", "query_only(1)"}}
	db, err := sql.Open("sqlite", "file:"+(&url.URL{Path: path}).EscapedPath()+"?"+options.Encode())
	if err != nil {
		return nil, fmt.Errorf("state store %s: %w", path, err)
	}
	if err := isNewest(db); err != nil {
		return nil, errors.Join(fmt.Errorf("state store %s: %w", path, err), db.Close())
	}
	return &DB{sql: db, now: time.Now, writing: make(chan struct{}, 1)}, nil
}

// isNewest checks that the newest migration has been made.
func isNewest(db *sql.DB) error {
	files, err := migrations.ReadDir("migrations") // by name
	if err != nil {
		return err
	}
	var newest, version int
	if _, err := fmt.Sscanf(files[len(files)-1].Name(), "%d", &newest); err != nil {
		return err
	}
	if err := db.QueryRow(`SELECT max(version_id) FROM goose_db_version`).Scan(&version); err != nil {
		return err
	}
	if version < newest {
		return ErrOlder
	}
	return nil
}
