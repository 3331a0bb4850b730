-- +goose Up

-- After how many minutes without use the shared phones of a station lock, 0 for never; and its vehicles whose pages
-- always have the look for the night.
ALTER TABLE station ADD COLUMN lock_minutes {{int}} NOT NULL DEFAULT 0;
ALTER TABLE station ADD COLUMN {{json "night_vehicles"}} NOT NULL DEFAULT '[]';
