-- +goose Up

-- When a place went to another station.
ALTER TABLE place_moved ADD COLUMN {{instant "moved_at"}};
CREATE INDEX place_moved_place ON place_moved (place);
