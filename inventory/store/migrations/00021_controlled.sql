-- +goose Up

-- What one unit of an item holds, as in 10 mg: a decimal number as its text,
-- and its unit.
ALTER TABLE item ADD COLUMN content_quantity {{text}} NOT NULL DEFAULT '';
ALTER TABLE item ADD COLUMN content_unit {{text}} NOT NULL DEFAULT '';

-- Cases of controlled items that did not agree, by a balance check or in what
-- was given and wasted: each is open until two people close it.
CREATE TABLE discrepancy (
    {{id}},
    item {{text}} NOT NULL REFERENCES item (code),
    place {{text}} NOT NULL REFERENCES place (code),
    check_id {{int}} REFERENCES balance_check (id),
    movement_id {{int}} REFERENCES movement (id),
    body {{text}} NOT NULL,
    {{instant "opened_at"}} NOT NULL,
    opened_by {{text}} NOT NULL,
    {{instant "closed_at"}},
    closed_by {{text}} NOT NULL,
    witness {{text}} NOT NULL,
    outcome {{text}} NOT NULL,
    CHECK ((check_id IS NULL) <> (movement_id IS NULL)),
    CHECK ((closed_at IS NULL) = (outcome = '')),
    CHECK ((closed_at IS NULL) = (witness = '') AND (witness = '' OR witness <> closed_by))
){{strict}};

CREATE INDEX discrepancy_open ON discrepancy (item, place) WHERE closed_at IS NULL;
