-- +goose Up
-- Times are nanoseconds since 1970, UTC.

-- What has happened to alerts and was not yet taken into cases. The triggers
-- write it in the transaction that changes the alert, whoever that is, so that
-- no change is lost to a kill.
CREATE TABLE alert_changes (
    seq   INTEGER PRIMARY KEY AUTOINCREMENT,
    alert TEXT NOT NULL
) STRICT;
-- +goose StatementBegin
CREATE TRIGGER alert_added AFTER INSERT ON alerts BEGIN
    INSERT INTO alert_changes (alert) VALUES (new.id);
END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER alert_changed AFTER UPDATE ON alerts BEGIN
    INSERT INTO alert_changes (alert) VALUES (new.id);
END;
-- +goose StatementEnd
INSERT INTO alert_changes (alert) SELECT id FROM alerts ORDER BY raised, id;

CREATE INDEX alerts_standing ON alerts (home) WHERE cleared IS NULL AND withdrawn IS NULL;

CREATE TABLE cases (
    id       TEXT PRIMARY KEY, -- of the alert that opened it
    home     TEXT NOT NULL,
    stage    TEXT NOT NULL,
    lead     TEXT NOT NULL,
    holder   TEXT NOT NULL,
    due      INTEGER,
    joined   TEXT NOT NULL,    -- the case that its alerts went to, or empty
    version  INTEGER NOT NULL, -- number of its last step
    opened   INTEGER NOT NULL,
    changed  INTEGER NOT NULL, -- by the machine's clock
    severity TEXT NOT NULL,    -- the most pressing that stands
    told     TEXT NOT NULL,    -- the most pressing that people were told since it was opened; empty: nothing
    kind     TEXT NOT NULL,    -- of the lead
    cause    TEXT NOT NULL,    -- confirmed, or the lead's first; may be empty
    per_day  REAL NOT NULL,    -- what a day of waiting costs
    loss     TEXT NOT NULL     -- JSON, what that is made of
) STRICT;
CREATE INDEX cases_by_home ON cases (home);
CREATE INDEX cases_by_loss ON cases (per_day DESC, id) WHERE joined = '';
CREATE INDEX cases_by_change ON cases (version DESC) WHERE joined = '';
CREATE INDEX cases_pressing ON cases (id) WHERE stage = 'open' AND severity = 'act_now';
CREATE INDEX cases_watched ON cases (home) WHERE stage = 'watched';

-- The alerts of the cases, as they were when last taken into account.
CREATE TABLE case_alerts (
    alert    TEXT PRIMARY KEY,
    home     TEXT NOT NULL,
    case_id  TEXT NOT NULL,
    position INTEGER NOT NULL,
    severity TEXT NOT NULL,
    cause    TEXT NOT NULL,
    standing INTEGER NOT NULL
) STRICT, WITHOUT ROWID;
CREATE INDEX case_alerts_by_case ON case_alerts (case_id, position);

CREATE TABLE steps (
    seq      INTEGER PRIMARY KEY AUTOINCREMENT,
    case_id  TEXT NOT NULL,
    home     TEXT NOT NULL,
    at       INTEGER NOT NULL, -- of measurement for the engine's
    recorded INTEGER NOT NULL, -- by the machine's clock
    "by"     TEXT NOT NULL,    -- a person's id; empty for the engine
    role     TEXT NOT NULL,    -- of that person then
    act      TEXT NOT NULL,
    alert    TEXT NOT NULL,
    cause    TEXT NOT NULL,
    text     TEXT NOT NULL,
    due      INTEGER
) STRICT;
CREATE INDEX steps_by_case ON steps (case_id, seq);

-- What people said of a home: symptoms, measured hardness, outcomes of checks,
-- notes. The newest of a name counts; an empty value takes an answer back.
CREATE TABLE reports (
    seq    INTEGER PRIMARY KEY AUTOINCREMENT,
    home   TEXT NOT NULL,
    at     INTEGER NOT NULL,
    "by"   TEXT NOT NULL,
    what   TEXT NOT NULL, -- symptom, hardness, check or note
    name   TEXT NOT NULL,
    value  TEXT NOT NULL
) STRICT;
CREATE INDEX reports_by_home ON reports (home, seq);

-- Causes that firms have confirmed.
CREATE TABLE confirmations (
    id        INTEGER PRIMARY KEY AUTOINCREMENT,
    firm      TEXT NOT NULL,
    home      TEXT NOT NULL,
    case_id   TEXT NOT NULL,
    cause     TEXT NOT NULL,
    "by"      TEXT NOT NULL,
    at        INTEGER NOT NULL,
    undone    INTEGER,
    undone_by TEXT NOT NULL DEFAULT ''
) STRICT;
CREATE INDEX confirmations_by_firm ON confirmations (firm, id);

-- Alerts as they were raised, and whether somebody said that they were not true.
CREATE TABLE verdicts (
    alert    TEXT PRIMARY KEY,
    firm     TEXT NOT NULL,
    home     TEXT NOT NULL,
    kind     TEXT NOT NULL,
    severity TEXT NOT NULL,
    not_true INTEGER NOT NULL DEFAULT 0
) STRICT, WITHOUT ROWID;
CREATE INDEX verdicts_by_firm ON verdicts (firm);

-- History is only ever added to, but where a home is erased.
CREATE TABLE erasing (home TEXT PRIMARY KEY) STRICT, WITHOUT ROWID;
-- +goose StatementBegin
CREATE TRIGGER steps_stay BEFORE UPDATE ON steps BEGIN SELECT RAISE(ABORT, 'steps are only added'); END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER steps_stay_there BEFORE DELETE ON steps WHEN NOT EXISTS (SELECT 1 FROM erasing WHERE home = old.home)
BEGIN SELECT RAISE(ABORT, 'steps are only added'); END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER reports_stay BEFORE UPDATE ON reports BEGIN SELECT RAISE(ABORT, 'reports are only added'); END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER reports_stay_there BEFORE DELETE ON reports WHEN NOT EXISTS (SELECT 1 FROM erasing WHERE home = old.home)
BEGIN SELECT RAISE(ABORT, 'reports are only added'); END;
-- +goose StatementEnd

-- Steps that people are to be told of, written with the step.
CREATE TABLE outbox (
    step     INTEGER PRIMARY KEY,
    case_id  TEXT NOT NULL,
    home     TEXT NOT NULL,
    severity TEXT NOT NULL -- of the case then
) STRICT;

-- What each person is told on each channel: once a step, and once a repetition
-- of it. Neither address nor secret is kept here.
CREATE TABLE messages (
    id       TEXT PRIMARY KEY,
    step     INTEGER NOT NULL,
    again    INTEGER NOT NULL, -- 0, or which repetition
    person   TEXT NOT NULL,
    channel  TEXT NOT NULL,    -- fingerprint of the person's channel
    kind     TEXT NOT NULL,    -- of the channel
    home     TEXT NOT NULL,
    case_id  TEXT NOT NULL,
    urgent   INTEGER NOT NULL, -- at any hour, and repeated
    due      INTEGER NOT NULL,
    delivery TEXT,             -- that it goes with
    UNIQUE (step, again, person, channel)
) STRICT;
CREATE INDEX messages_waiting ON messages (due) WHERE delivery IS NULL;
CREATE INDEX messages_by_delivery ON messages (delivery);
CREATE INDEX messages_by_case ON messages (case_id);

-- What goes out as one: a message, or several that were put together.
CREATE TABLE deliveries (
    id       TEXT PRIMARY KEY,
    person   TEXT NOT NULL,
    channel  TEXT NOT NULL,
    kind     TEXT NOT NULL,
    urgent   INTEGER NOT NULL,
    created  INTEGER NOT NULL,
    next     INTEGER,          -- when it is tried; NULL once it is over
    attempts INTEGER NOT NULL,
    outcome  TEXT NOT NULL,    -- empty, delivered, refused, or gone: nobody is there to be told any more
    finished INTEGER
) STRICT;
CREATE INDEX deliveries_due ON deliveries (next) WHERE next IS NOT NULL;
CREATE INDEX deliveries_of ON deliveries (person, channel, created);

-- Retained messages of alerts at the broker.
CREATE TABLE announced (
    topic TEXT PRIMARY KEY,
    home  TEXT NOT NULL,
    hash  TEXT NOT NULL
) STRICT, WITHOUT ROWID;

-- +goose Down
DROP TABLE announced;
DROP TABLE deliveries;
DROP TABLE messages;
DROP TABLE outbox;
DROP TABLE verdicts;
DROP TABLE confirmations;
DROP TABLE reports;
DROP TABLE steps;
DROP TABLE erasing;
DROP TABLE case_alerts;
DROP TABLE cases;
DROP TRIGGER alert_changed;
DROP TRIGGER alert_added;
DROP TABLE alert_changes;
DROP INDEX alerts_standing;
