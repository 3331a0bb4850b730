-- +goose Up

-- Units go back to their supplier, and a unit of count is converted.
{{if sqlite -}}
-- No row changes, so the text of the table's check may be changed in its place: www.sqlite.org/lang_altertable.html, 7.
PRAGMA writable_schema = ON;
UPDATE sqlite_schema SET sql = replace(sql, '''found'', ''correction'')', '''found'', ''correction'', ''to_supplier'', ''converted'')')
WHERE name = 'movement';
PRAGMA writable_schema = RESET;
{{else -}}
ALTER TABLE movement DROP CONSTRAINT movement_reason_check;
ALTER TABLE movement ADD CHECK (reason IN ('receipt', 'opening', 'stow', 'return', 'transfer', 'to_training', 'quarantine',
    'release', 'away', 'used', 'disposed', 'lost', 'found', 'correction', 'to_supplier', 'converted'));
{{end -}}

-- A station that is closed keeps its rows for the sake of its history. What was
-- in bags, on carriers or away then may go on at another station: until the
-- movement named here the place stood in the chain of the station named here.
ALTER TABLE station ADD COLUMN {{instant "closed_at"}};
CREATE TABLE place_moved (
    {{id}},
    place {{text}} NOT NULL REFERENCES place (code),
    station {{text}} NOT NULL REFERENCES station (code),
    until {{int}} NOT NULL CHECK (until >= 0)
){{strict}};
