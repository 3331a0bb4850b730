-- +goose Up

-- A crew may withdraw its own report as long as nobody has decided it.
{{if sqlite -}}
-- No row changes, so the text of the table's check may be changed in its place: www.sqlite.org/lang_altertable.html, 7.
PRAGMA writable_schema = ON;
UPDATE sqlite_schema SET sql = replace(sql, '''rejected'')', '''rejected'', ''withdrawn'')') WHERE name IN ('bag_check', 'bag_use');
PRAGMA writable_schema = RESET;
{{else -}}
ALTER TABLE bag_check DROP CONSTRAINT bag_check_status_check;
ALTER TABLE bag_use DROP CONSTRAINT bag_use_status_check;
ALTER TABLE bag_check ADD CHECK (status IN ('accepted', 'to_review', 'rejected', 'withdrawn'));
ALTER TABLE bag_use ADD CHECK (status IN ('accepted', 'to_review', 'rejected', 'withdrawn'));
{{end -}}

-- What reports that came to review say of bags, fixed when they were recorded: it counts until they are decided. Of
-- units, how many were settled since, and how many of those that were there then still are.
CREATE TABLE reported (
    {{id}},
    check_id {{int}} REFERENCES bag_check (id),
    use_id {{int}} REFERENCES bag_use (id),
    place {{text}} NOT NULL REFERENCES bag (code),
    kind {{text}} NOT NULL CHECK (kind IN ('used', 'missing', 'damaged', 'expired', 'moved', 'failed', 'training_mark', 'unidentified', 'opened', 'broken', 'different')),
    item {{text}} REFERENCES item (code),
    lot_id {{int}} REFERENCES lot (id),
    qty {{int}} NOT NULL CHECK (qty >= 0),
    settled {{int}} NOT NULL CHECK (settled >= 0),
    pool {{int}} NOT NULL CHECK (pool >= 0),
    note {{text}} NOT NULL,
    CHECK ((check_id IS NULL) <> (use_id IS NULL))
){{strict}};

CREATE INDEX reported_check ON reported (check_id) WHERE check_id IS NOT NULL;
CREATE INDEX reported_use ON reported (use_id) WHERE use_id IS NOT NULL;

-- What is to review already counts by what is recorded now, units alone.
INSERT INTO reported (use_id, place, kind, lot_id, qty, settled, pool, note)
SELECT said.id, b.place, 'used', b.lot_id, CASE WHEN said.qty < b.qty THEN said.qty ELSE b.qty END, 0, b.qty, ''
FROM (SELECT u.id, coalesce(nullif(j.value ->> 'came_from', ''), u.bag) AS place, CAST(j.value ->> 'lot_id' AS {{int}}) AS lot_id,
        CAST(sum(CAST(j.value ->> 'qty' AS {{int}})) AS {{int}}) AS qty
    FROM bag_use u, {{if sqlite}}json_each(u.lines) j{{else}}jsonb_array_elements(u.lines) AS j (value){{end}} WHERE u.status = 'to_review' GROUP BY 1, 2, 3) said
JOIN balance b ON b.place = said.place AND b.lot_id = said.lot_id;
INSERT INTO reported (check_id, place, kind, lot_id, qty, settled, pool, note)
SELECT said.id, b.place, coalesce(said.reason, 'missing'), b.lot_id, b.qty - said.counted, 0, b.qty, ''
FROM (SELECT c.id, c.bag AS place, CAST(j.value ->> 'lot_id' AS {{int}}) AS lot_id, max(nullif(nullif(j.value ->> 'reason', 'found'), '')) AS reason,
        CAST(sum(CAST(j.value ->> 'counted' AS {{int}})) AS {{int}}) AS counted
    FROM bag_check c, {{if sqlite}}json_each(c.lines) j{{else}}jsonb_array_elements(c.lines) AS j (value){{end}} WHERE c.status = 'to_review' GROUP BY 1, 2, 3) said
JOIN balance b ON b.place = said.place AND b.lot_id = said.lot_id AND b.qty > said.counted;
