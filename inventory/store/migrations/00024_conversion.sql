-- +goose Up

-- When a place went to another station.
ALTER TABLE place_moved ADD COLUMN {{instant "moved_at"}};
CREATE INDEX place_moved_place ON place_moved (place);

-- The unit of an item is converted, with all that is counted in it: what was recorded up to the movement named here
-- counts in the old one.
CREATE TABLE conversion (
    {{id}},
    item {{text}} NOT NULL REFERENCES item (code),
    old_unit {{text}} NOT NULL,
    new_unit {{text}} NOT NULL,
    old_qty {{int}} NOT NULL CHECK (old_qty > 0),
    new_qty {{int}} NOT NULL CHECK (new_qty > 0),
    until {{int}} NOT NULL CHECK (until >= 0),
    {{instant "recorded_at"}} NOT NULL,
    by_name {{text}} NOT NULL,
    witness {{text}} NOT NULL,
    reason {{text}} NOT NULL
){{strict}};
