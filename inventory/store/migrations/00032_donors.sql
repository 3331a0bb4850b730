-- +goose Up

-- How many units of an item no transfer takes from a station; where a station lies, and the minutes from it to others.
ALTER TABLE item ADD COLUMN reserve {{int}} NOT NULL DEFAULT 0;
ALTER TABLE station ADD COLUMN position {{text}} NOT NULL DEFAULT '';
ALTER TABLE station ADD COLUMN {{json "travel_minutes"}} NOT NULL DEFAULT '[]';
