-- +goose Up

-- A medicine may be found, or come from a file, without its wording. SQLite
-- cannot change what a column allows, so that the column is made again.
ALTER TABLE batch ADD COLUMN wording {{text}} NOT NULL DEFAULT ''
    CHECK (wording IN ('', 'expiry', 'hourglass', 'use_by', 'use_before', 'unstated'));
UPDATE batch SET wording = end_wording;
ALTER TABLE batch DROP COLUMN end_wording;
ALTER TABLE batch RENAME COLUMN wording TO end_wording;
