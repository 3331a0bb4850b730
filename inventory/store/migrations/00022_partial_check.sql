-- +goose Up

-- A full check that left lines out says how many. Those before counted all.
ALTER TABLE bag_check ADD COLUMN not_counted {{int}} NOT NULL DEFAULT 0;
