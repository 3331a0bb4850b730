-- +goose Up

-- Who sent a record for a person who was not signed in: it is only said to be theirs, until they confirm it.
ALTER TABLE bag_check ADD COLUMN sent_by {{text}} NOT NULL DEFAULT '';
ALTER TABLE bag_use ADD COLUMN sent_by {{text}} NOT NULL DEFAULT '';
