-- +goose Up

-- A shared phone, tablet or computer that an administrator enrolled. Its
-- secret stands in a cookie there; only the hash is kept.
CREATE TABLE terminal (
    {{id}},
    name {{text}} NOT NULL CHECK (name <> ''),
    site {{text}} REFERENCES site (code),
    hash {{text}} UNIQUE,
    {{instant "created_at"}} NOT NULL,
    created_by {{text}} NOT NULL,
    {{instant "enrolled_at"}},
    {{instant "revoked_at"}},
    {{day "last_used"}},
    CHECK ((hash IS NULL) = (enrolled_at IS NULL))
){{strict}};

ALTER TABLE session ADD COLUMN terminal {{int}} REFERENCES terminal (id);

CREATE INDEX session_terminal ON session (terminal) WHERE terminal IS NOT NULL;

-- One-time links: used up by being deleted.
CREATE TABLE one_time_link (
    hash {{text}} PRIMARY KEY,
    kind {{text}} NOT NULL CHECK (kind IN ('welcome', 'enrol')),
    terminal {{int}} REFERENCES terminal (id),
    {{instant "ends_at"}} NOT NULL,
    CHECK ((kind = 'enrol') = (terminal IS NOT NULL))
){{strict}};

-- Wrong tries to sign in, by what is counted: a name on a terminal, an address.
CREATE TABLE sign_in_try (
    subject {{text}} PRIMARY KEY,
    tries {{int}} NOT NULL CHECK (tries >= 0),
    {{instant "last_at"}},
    {{instant "locked_till"}}
){{strict}};

ALTER TABLE token ADD COLUMN scope {{text}} NOT NULL DEFAULT '';
ALTER TABLE token ADD COLUMN {{instant "ends_at"}};
ALTER TABLE token ADD COLUMN created_by {{text}} NOT NULL DEFAULT '';

-- What people and programs did, kept in the unit of work that did it.
CREATE TABLE deed (
    {{id}},
    {{instant "at"}} NOT NULL,
    by_name {{text}} NOT NULL,
    from_terminal {{text}} NOT NULL,
    kind {{text}} NOT NULL CHECK (kind <> ''),
    site {{text}} NOT NULL,
    place {{text}} NOT NULL,
    other_place {{text}} NOT NULL,
    lot_id {{int}},
    batch_id {{int}},
    person {{text}} NOT NULL,
    detail {{text}} NOT NULL
){{strict}};

CREATE INDEX deed_at ON deed (at);
CREATE INDEX deed_by ON deed (by_name);
CREATE INDEX deed_place ON deed (place) WHERE place <> '';
CREATE INDEX deed_other_place ON deed (other_place) WHERE other_place <> '';
CREATE INDEX deed_lot ON deed (lot_id) WHERE lot_id IS NOT NULL;
CREATE INDEX deed_batch ON deed (batch_id) WHERE batch_id IS NOT NULL;

-- What was done before there was this table, as far as the records tell: which
-- terminal it was done from they do not.
INSERT INTO deed (at, by_name, from_terminal, kind, site, place, other_place, lot_id, batch_id, person, detail)
SELECT at, by_name, '', kind, site, place, other_place, lot_id, batch_id, '', detail FROM (
    SELECT recorded_at AS at, by_name, 'movement' AS kind, site, from_place AS place, to_place AS other_place, lot_id, batch_id,
        qty || ', ' || reason AS detail FROM movement
    UNION ALL
    SELECT c.recorded_at, c.by_name, CASE c.kind WHEN 'seal' THEN 'seal_check' ELSE 'full_check' END, coalesce(p.at_site, p.site, ''), c.bag, '', NULL, NULL, c.status
        FROM bag_check c JOIN place p ON p.code = c.bag
    UNION ALL
    SELECT u.recorded_at, u.by_name, 'use', coalesce(p.at_site, p.site, ''), u.bag, '', NULL, NULL, u.status FROM bag_use u JOIN place p ON p.code = u.bag
    UNION ALL
    SELECT r.at, r.by_name, 'restock', coalesce(p.at_site, p.site, ''), r.bag, '', NULL, NULL, '' FROM restock r JOIN place p ON p.code = r.bag
    UNION ALL
    SELECT l.at, l.by_name, 'bag_changed', coalesce(p.at_site, p.site, ''), l.bag, '', NULL, NULL, l.kind FROM bag_log l JOIN place p ON p.code = l.bag
) AS before_deeds ORDER BY at;
