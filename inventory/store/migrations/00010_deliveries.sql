-- +goose Up

-- A delivery that is being scanned in, or was: its lines are a draft, and
-- become receipts when it is put away.
CREATE TABLE delivery (
    {{id}},
    place {{text}} NOT NULL REFERENCES place (code),
    reference {{text}} NOT NULL,
    status {{text}} NOT NULL CHECK (status IN ('open', 'put_away', 'dropped')),
    {{instant "started_at"}} NOT NULL,
    started_by {{text}} NOT NULL,
    {{instant "ended_at"}},
    ended_by {{text}} NOT NULL,
    last_line {{int}} NOT NULL,
    {{json "lines"}} NOT NULL,
    CHECK ((ended_at IS NULL) = (status = 'open'))
){{strict}};

CREATE INDEX delivery_open ON delivery (place) WHERE status = 'open';
