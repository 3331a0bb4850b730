-- +goose Up

-- A request key is unique for ever, so that nothing sent twice counts twice.
CREATE TABLE bag_check (
    {{id}},
    bag {{text}} NOT NULL REFERENCES bag (code),
    kind {{text}} NOT NULL CHECK (kind IN ('seal', 'full')),
    {{instant "performed_at"}} NOT NULL,
    {{instant "recorded_at"}} NOT NULL,
    by_name {{text}} NOT NULL,
    seen_position {{int}} NOT NULL,
    seal_seen {{text}} NOT NULL,
    {{bool "seal_broken"}},
    seal_set {{text}} NOT NULL,
    {{json "lines"}} NOT NULL,
    {{json "found"}} NOT NULL,
    {{json "inspections"}} NOT NULL,
    note {{text}} NOT NULL,
    status {{text}} NOT NULL CHECK (status IN ('posted', 'waiting', 'dismissed')),
    waits_because {{text}} NOT NULL,
    {{jsonOrNull "decision"}},
    request_key {{text}},
    UNIQUE (request_key)
){{strict}};

CREATE INDEX bag_check_bag ON bag_check (bag);
CREATE INDEX bag_check_waiting ON bag_check (status) WHERE status = 'waiting';

CREATE TABLE bag_use (
    {{id}},
    bag {{text}} NOT NULL REFERENCES bag (code),
    incident {{text}} NOT NULL,
    {{instant "used_at"}} NOT NULL,
    {{instant "recorded_at"}} NOT NULL,
    by_name {{text}} NOT NULL,
    seen_position {{int}} NOT NULL,
    seal_seen {{text}} NOT NULL,
    seal_set {{text}} NOT NULL,
    {{json "lines"}} NOT NULL,
    note {{text}} NOT NULL,
    status {{text}} NOT NULL CHECK (status IN ('posted', 'waiting', 'dismissed')),
    waits_because {{text}} NOT NULL,
    {{jsonOrNull "decision"}},
    request_key {{text}},
    UNIQUE (request_key)
){{strict}};

CREATE INDEX bag_use_bag ON bag_use (bag);
CREATE INDEX bag_use_waiting ON bag_use (status) WHERE status = 'waiting';

CREATE TABLE restock (
    {{id}},
    bag {{text}} NOT NULL REFERENCES bag (code),
    {{instant "at"}} NOT NULL,
    by_name {{text}} NOT NULL,
    {{json "lines"}} NOT NULL,
    {{json "take_out"}} NOT NULL,
    seal_set {{text}} NOT NULL,
    note {{text}} NOT NULL
){{strict}};

CREATE INDEX restock_bag ON restock (bag);

CREATE TABLE observation (
    {{id}},
    bag {{text}} NOT NULL REFERENCES bag (code),
    kind {{text}} NOT NULL CHECK (kind IN ('training_mark', 'other_seal', 'failed_point', 'unidentified', 'not_in_ledger')),
    item {{text}} REFERENCES item (code),
    lot_id {{int}} REFERENCES lot (id),
    body {{text}} NOT NULL,
    source {{text}} NOT NULL,
    {{instant "opened_at"}} NOT NULL,
    opened_by {{text}} NOT NULL,
    {{instant "closed_at"}},
    closed_by {{text}} NOT NULL,
    close_reason {{text}} NOT NULL,
    CHECK ((closed_at IS NULL) = (close_reason = ''))
){{strict}};

CREATE INDEX observation_bag ON observation (bag);
CREATE INDEX observation_open ON observation (bag) WHERE closed_at IS NULL;
