-- +goose Up

-- A carrier may ride on a vehicle, as a bag may.
ALTER TABLE place ADD COLUMN vehicle {{text}} NOT NULL DEFAULT '';

CREATE INDEX place_vehicle ON place (vehicle) WHERE vehicle <> '';

-- What people say of a seal: why it was opened, or that it is a temporary one.
ALTER TABLE seal ADD COLUMN note {{text}} NOT NULL DEFAULT '';

-- A full check may put a bag back that was taken off.
ALTER TABLE bag_check ADD COLUMN {{bool "put_back"}} DEFAULT {{false}};

-- What people changed of a bag: the values are a vehicle, a site, a bag, or a
-- kit list with its version.
CREATE TABLE bag_log (
    {{id}},
    bag {{text}} NOT NULL REFERENCES bag (code),
    {{instant "at"}} NOT NULL,
    by_name {{text}} NOT NULL,
    kind {{text}} NOT NULL CHECK (kind IN ('vehicle', 'site', 'inside', 'module', 'kit_list', 'taken_off', 'put_back')),
    old_value {{text}} NOT NULL,
    new_value {{text}} NOT NULL,
    reason {{text}} NOT NULL
){{strict}};

CREATE INDEX bag_log_bag ON bag_log (bag);

-- A vehicle that somebody took off the run, and who put it back.
CREATE TABLE vehicle_off (
    {{id}},
    site {{text}} NOT NULL REFERENCES site (code),
    vehicle {{text}} NOT NULL CHECK (vehicle <> ''),
    reason {{text}} NOT NULL CHECK (reason <> ''),
    {{instant "at"}} NOT NULL,
    by_name {{text}} NOT NULL,
    {{instant "back_at"}},
    back_by {{text}} NOT NULL,
    CHECK ((back_at IS NULL) = (back_by = ''))
){{strict}};

CREATE UNIQUE INDEX vehicle_off_now ON vehicle_off (site, vehicle) WHERE back_at IS NULL;

-- What was typed wrongly of a batch, and what it was corrected to.
CREATE TABLE batch_correction (
    {{id}},
    batch_id {{int}} NOT NULL REFERENCES batch (id),
    {{instant "at"}} NOT NULL,
    by_name {{text}} NOT NULL,
    reason {{text}} NOT NULL CHECK (reason <> ''),
    {{jsonOrNull "old_value"}},
    {{jsonOrNull "new_value"}}
){{strict}};

CREATE INDEX batch_correction_batch ON batch_correction (batch_id);

-- The modules that a bag on a kit list must hold: bags on another list.
CREATE TABLE kit_module (
    list {{text}} NOT NULL,
    version {{int}} NOT NULL,
    rank {{int}} NOT NULL CHECK (rank >= 0),
    module {{text}} NOT NULL,
    count {{int}} NOT NULL CHECK (count > 0),
    PRIMARY KEY (list, version, rank),
    UNIQUE (list, version, module),
    FOREIGN KEY (list, version) REFERENCES kit_list (code, version)
){{clustered}};
