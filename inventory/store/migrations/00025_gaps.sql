-- +goose Up

-- PostgreSQL leaves numbers of movements out, SQLite none: how many were left
-- out in what SQLite took over.
ALTER TABLE service ADD COLUMN gaps {{int}} NOT NULL DEFAULT 0;
