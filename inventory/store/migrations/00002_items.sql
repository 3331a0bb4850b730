-- +goose Up

CREATE TABLE item (
    code {{text}} PRIMARY KEY CHECK (length(code) BETWEEN 1 AND 40),
    name {{text}} NOT NULL,
    search {{text}} NOT NULL,
    category {{text}} NOT NULL REFERENCES category (name),
    unit {{text}} NOT NULL,
    tracked_by {{text}} NOT NULL CHECK (tracked_by IN ('lot', 'serial')),
    {{bool "dated"}},
    {{bool "single_use"}},
    {{bool "witnessed"}},
    made_months {{int}} NOT NULL CHECK (made_months >= 0),
    stowed_months {{int}} NOT NULL CHECK (stowed_months >= 0),
    exposed_days {{int}} NOT NULL CHECK (exposed_days >= 0),
    opened_days {{int}} NOT NULL CHECK (opened_days >= 0),
    inspect_days {{int}} NOT NULL CHECK (inspect_days >= 0),
    training_cycles {{int}} NOT NULL CHECK (training_cycles >= 0),
    {{json "inspection_points"}} NOT NULL,
    lead_time_days {{int}} NOT NULL CHECK (lead_time_days >= 0),
    version {{int}} NOT NULL CHECK (version > 0)
){{strict}};

CREATE INDEX item_category ON item (category);

CREATE TABLE product (
    {{id}},
    item {{text}} NOT NULL REFERENCES item (code),
    gtin {{text}} NOT NULL,
    hibc {{text}} NOT NULL,
    maker_reference {{text}} NOT NULL,
    supplier {{text}} NOT NULL,
    pack_size {{int}} NOT NULL CHECK (pack_size > 0),
    version {{int}} NOT NULL CHECK (version > 0)
){{strict}};

CREATE INDEX product_item ON product (item);
CREATE INDEX product_gtin ON product (gtin) WHERE gtin <> '';
CREATE INDEX product_hibc ON product (hibc) WHERE hibc <> '';

-- Added here, since items and products name each other.
ALTER TABLE item ADD COLUMN preferred_product {{int}} REFERENCES product (id);

-- A row is one version of a kit list; versions are never changed.
CREATE TABLE kit_list (
    code {{text}} NOT NULL CHECK (length(code) BETWEEN 1 AND 40),
    version {{int}} NOT NULL CHECK (version > 0),
    name {{text}} NOT NULL,
    edition {{text}} NOT NULL,
    source {{text}} NOT NULL,
    {{day "valid_from"}},
    {{day "valid_to"}},
    {{bool "sealed"}},
    {{bool "seal_warns"}},
    seal_check_hours {{int}} NOT NULL CHECK (seal_check_hours >= 0),
    full_check_days {{int}} NOT NULL CHECK (full_check_days >= 0),
    min_remaining_days {{int}} NOT NULL CHECK (min_remaining_days >= 0),
    PRIMARY KEY (code, version),
    CHECK (valid_to >= valid_from)
){{strict}};

CREATE TABLE kit_line (
    list {{text}} NOT NULL,
    version {{int}} NOT NULL,
    line {{int}} NOT NULL CHECK (line >= 0),
    item {{text}} NOT NULL REFERENCES item (code),
    pouch {{text}} NOT NULL,
    par {{int}} NOT NULL CHECK (par >= 0),
    minimum {{int}} NOT NULL CHECK (minimum >= 0),
    {{bool "critical"}},
    {{bool "presence_only"}},
    carried_elsewhere {{text}} NOT NULL,
    PRIMARY KEY (list, version, line),
    FOREIGN KEY (list, version) REFERENCES kit_list (code, version)
){{clustered}};

CREATE INDEX kit_line_item ON kit_line (item);

-- Other items that count for a line, in order of preference.
CREATE TABLE kit_accept (
    list {{text}} NOT NULL,
    version {{int}} NOT NULL,
    line {{int}} NOT NULL,
    rank {{int}} NOT NULL CHECK (rank >= 0),
    item {{text}} NOT NULL REFERENCES item (code),
    PRIMARY KEY (list, version, line, rank),
    UNIQUE (list, version, line, item),
    FOREIGN KEY (list, version, line) REFERENCES kit_line (list, version, line)
){{clustered}};

CREATE TABLE kit_rule (
    list {{text}} NOT NULL,
    version {{int}} NOT NULL,
    rank {{int}} NOT NULL CHECK (rank >= 0),
    when_category {{text}} REFERENCES category (name),
    need_category {{text}} REFERENCES category (name),
    need_item {{text}} REFERENCES item (code),
    at_least {{int}} NOT NULL CHECK (at_least > 0),
    severity {{text}} NOT NULL CHECK (severity IN ('stop', 'warn')),
    because {{text}} NOT NULL,
    PRIMARY KEY (list, version, rank),
    FOREIGN KEY (list, version) REFERENCES kit_list (code, version),
    CHECK ((need_category IS NULL) <> (need_item IS NULL))
){{clustered}};
