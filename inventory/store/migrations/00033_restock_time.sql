-- +goose Up

-- When a restock was made, where it was recorded later: it was written on paper.
ALTER TABLE restock ADD COLUMN {{instant "happened_at"}};
