-- +goose Up

-- What stands at the head of a register's pages besides the item's name.
ALTER TABLE item ADD COLUMN strength {{text}} NOT NULL DEFAULT '';
ALTER TABLE item ADD COLUMN form {{text}} NOT NULL DEFAULT '';

-- Movements of controlled items that a second person has still to sign, and
-- the person who made them as well where their own PIN was not given. Rows of
-- these tables are only ever added.
CREATE TABLE register_owed (
    movement_id {{int}} NOT NULL REFERENCES movement (id),
    {{bool "own"}},
    PRIMARY KEY (movement_id)
){{strict}};

CREATE TABLE register_signature (
    {{id}},
    movement_id {{int}} NOT NULL REFERENCES register_owed (movement_id),
    person {{text}} NOT NULL CHECK (person <> ''),
    {{instant "at"}} NOT NULL,
    UNIQUE (movement_id, person)
){{strict}};

-- What two people counted of a controlled item in a place, beside what the
-- ledger held then; after_movement is the last movement before it.
CREATE TABLE balance_check (
    {{id}},
    item {{text}} NOT NULL REFERENCES item (code),
    place {{text}} NOT NULL REFERENCES place (code),
    counted {{int}} NOT NULL CHECK (counted >= 0),
    expected {{int}} NOT NULL CHECK (expected >= 0),
    after_movement {{int}} REFERENCES movement (id),
    {{instant "happened_at"}} NOT NULL,
    {{instant "recorded_at"}} NOT NULL,
    by_name {{text}} NOT NULL CHECK (by_name <> ''),
    witness {{text}} NOT NULL CHECK (witness <> '' AND witness <> by_name),
    note {{text}} NOT NULL
){{strict}};

CREATE INDEX balance_check_page ON balance_check (item, place);
