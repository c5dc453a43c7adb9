-- +goose Up
-- Times are nanoseconds since 1970, UTC.
CREATE TABLE homes (
    id      TEXT PRIMARY KEY,
    profile TEXT NOT NULL, -- YAML as it was read
    updated INTEGER NOT NULL
) STRICT;

CREATE TABLE alerts (
    id        TEXT PRIMARY KEY,
    home      TEXT NOT NULL,
    kind      TEXT NOT NULL,
    severity  TEXT NOT NULL,
    onset     INTEGER NOT NULL,
    raised    INTEGER NOT NULL,
    cleared   INTEGER,
    withdrawn INTEGER,     -- the machine's time at which a later run no longer raised it
    superseded TEXT,       -- the id of the alert that a later run raised in its place
    summary   TEXT NOT NULL,
    causes    TEXT NOT NULL, -- JSON
    evidence  TEXT NOT NULL, -- JSON
    updated   INTEGER NOT NULL
) STRICT;
CREATE INDEX alerts_by_home ON alerts (home, raised);

CREATE TABLE regenerations (
    home   TEXT NOT NULL,
    start  INTEGER NOT NULL,
    finish INTEGER NOT NULL,
    record BLOB NOT NULL, -- gob: volumes may be NaN
    PRIMARY KEY (home, start)
) STRICT, WITHOUT ROWID;

CREATE TABLE snapshots (
    home      TEXT NOT NULL,
    watermark INTEGER NOT NULL, -- readings before it are in the snapshot
    data      BLOB NOT NULL,
    PRIMARY KEY (home, watermark)
) STRICT;

-- Homes that have stored readings which their judging has not seen, as those
-- came too late. Since is the oldest of them.
CREATE TABLE reruns (
    home TEXT PRIMARY KEY,
    since INTEGER NOT NULL
) STRICT;

-- +goose Down
DROP TABLE reruns;
DROP TABLE snapshots;
DROP TABLE regenerations;
DROP TABLE alerts;
DROP TABLE homes;
