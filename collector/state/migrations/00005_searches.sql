-- +goose Up
-- Searches that people keep. A NULL person is everybody's, where nobody signs in.
CREATE TABLE searches (
    person TEXT REFERENCES people (id) ON DELETE CASCADE,
    name   TEXT NOT NULL,
    query  TEXT NOT NULL
) STRICT;
CREATE UNIQUE INDEX searches_by_name ON searches (coalesce(person, ''), name);

-- +goose Down
DROP TABLE searches;
