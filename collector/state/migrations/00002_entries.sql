-- +goose Up
-- What the books say of a regeneration; none for those recognised before they
-- were kept.
ALTER TABLE regenerations ADD COLUMN entry BLOB; -- gob

-- +goose Down
ALTER TABLE regenerations DROP COLUMN entry;
