-- +goose Up

-- What a bag has beyond its place. Position goes up with each movement, seal
-- change or list change that touches the bag; bag_event says which.
CREATE TABLE bag (
    code {{text}} PRIMARY KEY REFERENCES place (code),
    kit_list {{text}} NOT NULL,
    kit_list_version {{int}} NOT NULL,
    priority {{int}} NOT NULL CHECK (priority BETWEEN 1 AND 9),
    vehicle {{text}} NOT NULL,
    inside {{text}} REFERENCES bag (code) CHECK (inside <> code),
    taken_off_reason {{text}} NOT NULL,
    taken_off_by {{text}} NOT NULL,
    {{instant "taken_off_at"}},
    version {{int}} NOT NULL CHECK (version > 0),
    position {{int}} NOT NULL CHECK (position >= 0),
    seal {{text}} NOT NULL,
    seal_state {{text}} NOT NULL CHECK (seal_state IN ('', 'intact', 'broken', 'different')),
    {{instant "seal_seen_at"}},
    {{instant "last_seal_check"}},
    {{instant "last_full_check"}},
    {{instant "last_use"}},
    {{instant "last_restock"}},
    FOREIGN KEY (kit_list, kit_list_version) REFERENCES kit_list (code, version),
    CHECK ((taken_off_at IS NULL) = (taken_off_reason = ''))
){{strict}};

CREATE INDEX bag_kit_list ON bag (kit_list, kit_list_version);
CREATE INDEX bag_inside ON bag (inside) WHERE inside IS NOT NULL;

CREATE TABLE seal (
    {{id}},
    bag {{text}} NOT NULL REFERENCES bag (code),
    {{instant "at"}} NOT NULL,
    by_name {{text}} NOT NULL,
    event {{text}} NOT NULL CHECK (event IN ('set', 'seen', 'broken', 'different', 'opened')),
    number {{text}} NOT NULL,
    expected {{text}} NOT NULL,
    source {{text}} NOT NULL
){{strict}};

CREATE INDEX seal_bag ON seal (bag);
