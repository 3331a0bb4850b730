-- +goose Up
{{if sqlite}}-- A kind of place more. What is checked stays otherwise, so the text of the schema is all that changes
-- (https://www.sqlite.org/lang_altertable.html, section 7).
PRAGMA writable_schema = ON;
UPDATE sqlite_schema SET sql = replace(sql, '''quarantine'', ''away'', ''supplier''', '''quarantine'', ''away'', ''transit'', ''supplier''')
WHERE type = 'table' AND name = 'place';
PRAGMA writable_schema = RESET;
{{else}}ALTER TABLE place DROP CONSTRAINT place_kind_check;
ALTER TABLE place ADD CONSTRAINT place_kind_check CHECK (kind IN ('store', 'bag', 'carrier', 'quarantine', 'away', 'transit', 'supplier', 'used', 'disposed', 'lost', 'found'));
{{end}}
-- Papers that people fill in step by step: transfers between stations, what was received of them, counts of places.
CREATE TABLE document (
    {{id}},
    kind {{text}} NOT NULL CHECK (kind IN ('transfer', 'transfer_receipt', 'count')),
    of_document {{int}} REFERENCES document (id),
    station {{text}} NOT NULL REFERENCES station (code),
    other_station {{text}} REFERENCES station (code),
    place {{text}} REFERENCES place (code),
    status {{text}} NOT NULL CHECK (status <> ''),
    {{instant "opened_at"}} NOT NULL,
    opened_by {{text}} NOT NULL,
    {{instant "ended_at"}},
    ended_by {{text}} NOT NULL,
    {{json "body"}} NOT NULL,
    CHECK ((kind = 'transfer_receipt') = (of_document IS NOT NULL)),
    CHECK ((ended_at IS NULL) = (ended_by = ''))
){{strict}};

CREATE INDEX document_open ON document (kind) WHERE ended_at IS NULL;
CREATE INDEX document_place ON document (kind, place);
