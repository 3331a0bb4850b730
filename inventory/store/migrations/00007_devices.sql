-- +goose Up

ALTER TABLE item ADD COLUMN {{json "inspection_notes"}} NOT NULL DEFAULT '[]';

-- What inspections, classes and notices say of a batch. The references of the
-- withdrawing notices stand one after another, each ended by the unit
-- separator, which no text may hold.
ALTER TABLE batch ADD COLUMN {{day "inspected_on"}};
ALTER TABLE batch ADD COLUMN cycles {{int}} NOT NULL DEFAULT 0 CHECK (cycles >= 0);
ALTER TABLE batch ADD COLUMN {{day "inspect_by"}};
ALTER TABLE batch ADD COLUMN withdrawn {{text}} NOT NULL DEFAULT '';

CREATE INDEX batch_item ON batch (item);

CREATE TABLE inspection (
    {{id}},
    batch_id {{int}} NOT NULL,
    lot_id {{int}} NOT NULL,
    item {{text}} NOT NULL REFERENCES item (code),
    place {{text}} NOT NULL REFERENCES place (code),
    {{instant "at"}} NOT NULL,
    {{instant "recorded_at"}} NOT NULL,
    by_name {{text}} NOT NULL,
    role {{text}} NOT NULL CHECK (role IN ('crew', 'quartermaster', 'manager', 'administrator')),
    {{json "points"}} NOT NULL,
    {{bool "passed"}},
    source {{text}} NOT NULL,
    note {{text}} NOT NULL,
    FOREIGN KEY (lot_id, batch_id) REFERENCES lot (id, batch_id)
){{strict}};

CREATE INDEX inspection_batch ON inspection (batch_id);

CREATE TABLE training_use (
    {{id}},
    batch_id {{int}} NOT NULL,
    lot_id {{int}} NOT NULL,
    {{instant "at"}} NOT NULL,
    {{instant "recorded_at"}} NOT NULL,
    by_name {{text}} NOT NULL,
    cycles {{int}} NOT NULL CHECK (cycles > 0),
    class {{text}} NOT NULL,
    FOREIGN KEY (lot_id, batch_id) REFERENCES lot (id, batch_id)
){{strict}};

CREATE INDEX training_use_batch ON training_use (batch_id);

CREATE TABLE notice (
    {{id}},
    reference {{text}} NOT NULL CHECK (reference <> ''),
    action {{text}} NOT NULL CHECK (action IN ('withdraw', 'inspect', 'inform')),
    item {{text}} NOT NULL REFERENCES item (code),
    product {{int}} REFERENCES product (id),
    {{json "lot_nos"}} NOT NULL,
    {{json "serials"}} NOT NULL,
    serial_from {{text}} NOT NULL,
    serial_to {{text}} NOT NULL,
    {{day "made_from"}},
    {{day "made_to"}},
    body {{text}} NOT NULL,
    status {{text}} NOT NULL CHECK (status IN ('open', 'closed', 'cancelled')),
    {{instant "issued_at"}} NOT NULL,
    issued_by {{text}} NOT NULL,
    {{instant "ended_at"}},
    ended_by {{text}} NOT NULL,
    end_reason {{text}} NOT NULL,
    CHECK ((status = 'open') = (ended_at IS NULL)),
    CHECK ((serial_from = '') = (serial_to = '')),
    CHECK ((made_from IS NULL) = (made_to IS NULL))
){{strict}};

CREATE INDEX notice_item ON notice (item);
CREATE UNIQUE INDEX notice_reference ON notice (item, reference) WHERE status <> 'cancelled';
