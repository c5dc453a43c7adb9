-- +goose Up
-- Times are nanoseconds since 1970, UTC. Whatever opens something is kept as a
-- hash: passwords by argon2id, secrets of 128 random bits or more by SHA-256,
-- devices' by PBKDF2 in the form that Mosquitto reads.
CREATE TABLE firms (
    id      TEXT PRIMARY KEY,
    name    TEXT NOT NULL,
    created INTEGER NOT NULL
) STRICT;

CREATE TABLE people (
    id       TEXT PRIMARY KEY,
    firm     TEXT REFERENCES firms (id), -- NULL of operators
    role     TEXT NOT NULL,
    name     TEXT NOT NULL,
    email    TEXT NOT NULL UNIQUE COLLATE NOCASE,
    units    TEXT NOT NULL,
    language TEXT NOT NULL,
    timezone TEXT NOT NULL,
    disabled INTEGER NOT NULL,
    password TEXT,             -- NULL until a link was used
    epoch    INTEGER NOT NULL, -- counts what ends all sessions: a new password, disabling
    created  INTEGER NOT NULL,
    updated  INTEGER NOT NULL
) STRICT;
CREATE INDEX people_by_firm ON people (firm);

CREATE TABLE person_homes (
    person TEXT NOT NULL REFERENCES people (id) ON DELETE CASCADE,
    home   TEXT NOT NULL,
    PRIMARY KEY (person, home)
) STRICT, WITHOUT ROWID;
CREATE INDEX person_homes_by_home ON person_homes (home);

CREATE TABLE channels (
    person   TEXT NOT NULL REFERENCES people (id) ON DELETE CASCADE,
    position INTEGER NOT NULL,
    kind     TEXT NOT NULL,
    target   TEXT NOT NULL,
    secret   TEXT NOT NULL, -- of a webhook, which must be signed with it
    "from"   INTEGER NOT NULL,
    "to"     INTEGER NOT NULL,
    least    TEXT NOT NULL,
    digest   INTEGER NOT NULL,
    PRIMARY KEY (person, position)
) STRICT, WITHOUT ROWID;

-- One-time links, by which a password is set.
CREATE TABLE links (
    hash    BLOB PRIMARY KEY,
    person  TEXT NOT NULL REFERENCES people (id) ON DELETE CASCADE,
    created INTEGER NOT NULL,
    expires INTEGER NOT NULL
) STRICT, WITHOUT ROWID;

CREATE TABLE sessions (
    hash    BLOB PRIMARY KEY,
    data    BLOB NOT NULL,
    expires INTEGER NOT NULL
) STRICT, WITHOUT ROWID;

CREATE TABLE tokens (
    id      TEXT PRIMARY KEY,
    hash    BLOB NOT NULL UNIQUE,
    person  TEXT NOT NULL REFERENCES people (id) ON DELETE CASCADE,
    name    TEXT NOT NULL,
    scope   TEXT NOT NULL,
    created INTEGER NOT NULL,
    expires INTEGER NOT NULL,
    used    INTEGER -- the hour of its last use
) STRICT;
CREATE INDEX tokens_by_person ON tokens (person);

CREATE TABLE devices (
    home     TEXT NOT NULL,
    id       TEXT NOT NULL,
    name     TEXT NOT NULL,
    password TEXT,    -- NULL when it has a certificate only
    topics   TEXT NOT NULL, -- JSON: those of its own, besides homes/<home>/sensors/<id>
    disabled INTEGER NOT NULL,
    created  INTEGER NOT NULL,
    PRIMARY KEY (home, id)
) STRICT, WITHOUT ROWID;

-- Who did what. Rows are only ever added, but for a home that is erased.
CREATE TABLE audit (
    id      INTEGER PRIMARY KEY AUTOINCREMENT,
    at      INTEGER NOT NULL,
    person  TEXT NOT NULL, -- empty for the command line
    firm    TEXT NOT NULL,
    home    TEXT NOT NULL,
    act     TEXT NOT NULL,
    subject TEXT NOT NULL,
    detail  TEXT NOT NULL,
    address TEXT NOT NULL
) STRICT;
CREATE INDEX audit_by_firm ON audit (firm, id);
CREATE INDEX audit_by_home ON audit (home, id);

ALTER TABLE homes ADD COLUMN firm TEXT;                     -- who looks after it; NULL: nobody yet
ALTER TABLE homes ADD COLUMN area TEXT NOT NULL DEFAULT ''; -- of the firm's rounds
ALTER TABLE homes ADD COLUMN filed TEXT NOT NULL DEFAULT ''; -- the profile as the homes file last had it
CREATE INDEX homes_by_firm ON homes (firm);

-- +goose Down
DROP INDEX homes_by_firm;
ALTER TABLE homes DROP COLUMN filed;
ALTER TABLE homes DROP COLUMN area;
ALTER TABLE homes DROP COLUMN firm;
DROP TABLE audit;
DROP TABLE devices;
DROP TABLE tokens;
DROP TABLE sessions;
DROP TABLE links;
DROP TABLE channels;
DROP TABLE person_homes;
DROP TABLE people;
DROP TABLE firms;
