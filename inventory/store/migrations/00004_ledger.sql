-- +goose Up

-- What the maker printed. A batch with a serial number is a device.
CREATE TABLE batch (
    {{id}},
    item {{text}} NOT NULL REFERENCES item (code),
    product {{int}} REFERENCES product (id),
    lot_no {{text}} NOT NULL,
    serial {{text}} NOT NULL,
    {{bool "device"}},
    {{day "made_on"}},
    end_printed {{text}} NOT NULL,
    end_wording {{text}} NOT NULL CHECK (end_wording IN ('', 'expiry', 'hourglass', 'use_by', 'use_before')),
    {{day "last_usable"}},
    UNIQUE (id, device),
    CHECK (device = (serial <> ''))
){{strict}};

CREATE UNIQUE INDEX batch_serial ON batch (item, serial) WHERE device;
CREATE UNIQUE INDEX batch_number ON batch (item, coalesce(product, 0), lot_no) WHERE NOT device AND lot_no <> '';
CREATE INDEX batch_lot_no ON batch (lot_no) WHERE lot_no <> '';
CREATE INDEX batch_serial_alone ON batch (serial) WHERE device;

-- Units of one batch that share their clocks.
CREATE TABLE lot (
    {{id}},
    batch_id {{int}} NOT NULL,
    {{bool "device"}},
    {{day "stowed_on"}},
    {{day "opened_on"}},
    {{day "exposed_since"}},
    exposed_days {{int}} NOT NULL CHECK (exposed_days >= 0),
    {{day "exposed_last"}},
    {{bool "training"}},
    {{bool "unidentified"}},
    parent {{int}} REFERENCES lot (id),
    {{day "received_on"}},
    UNIQUE (id, batch_id),
    UNIQUE (id, batch_id, device),
    FOREIGN KEY (batch_id, device) REFERENCES batch (id, device)
){{strict}};

CREATE UNIQUE INDEX lot_clocks ON lot (
    batch_id, {{dayKey "stowed_on"}}, {{dayKey "opened_on"}}, {{dayKey "exposed_since"}}, exposed_days,
    {{dayKey "exposed_last"}}, training, unidentified
);

-- The ledger. Its rows are only ever added. Both lots of a row are of its batch.
CREATE TABLE movement (
    {{id}},
    site {{text}} NOT NULL REFERENCES site (code),
    seq {{int}} NOT NULL CHECK (seq > 0),
    lot_id {{int}} NOT NULL,
    into_lot_id {{int}} NOT NULL,
    batch_id {{int}} NOT NULL,
    qty {{int}} NOT NULL CHECK (qty > 0),
    from_place {{text}} NOT NULL REFERENCES place (code),
    to_place {{text}} NOT NULL REFERENCES place (code),
    reason {{text}} NOT NULL CHECK (reason IN ('receipt', 'opening', 'stow', 'return', 'transfer', 'to_training', 'quarantine',
        'release', 'away', 'used', 'disposed', 'lost', 'found', 'correction')),
    cause {{text}} NOT NULL CHECK (cause IN ('', 'expired', 'damaged', 'wasted', 'training', 'recalled', 'missing', 'other')),
    {{instant "happened_at"}} NOT NULL,
    {{instant "recorded_at"}} NOT NULL,
    by_name {{text}} NOT NULL,
    witness {{text}} NOT NULL,
    reference {{text}} NOT NULL,
    note {{text}} NOT NULL,
    corrects {{int}} REFERENCES movement (id),
    prev_hash {{text}} NOT NULL CHECK (length(prev_hash) = 64 OR seq = 1 AND prev_hash = ''),
    hash {{text}} NOT NULL CHECK (length(hash) = 64),
    UNIQUE (site, seq),
    UNIQUE (corrects),
    FOREIGN KEY (lot_id, batch_id) REFERENCES lot (id, batch_id),
    FOREIGN KEY (into_lot_id, batch_id) REFERENCES lot (id, batch_id),
    CHECK (from_place <> to_place OR lot_id <> into_lot_id),
    CHECK ((reason = 'correction') = (corrects IS NOT NULL))
){{strict}};

CREATE INDEX movement_lot ON movement (lot_id);
CREATE INDEX movement_into_lot ON movement (into_lot_id);
CREATE INDEX movement_batch ON movement (batch_id);
CREATE INDEX movement_from ON movement (from_place);
CREATE INDEX movement_to ON movement (to_place);
CREATE INDEX movement_reference ON movement (reference) WHERE reference <> '';

-- What the movements add up to at each place inside the service. A device is
-- one unit, in one place: the key to its lot carries its batch and that it is
-- one, so that neither can be left out, and the index below allows one row.
CREATE TABLE balance (
    place {{text}} NOT NULL REFERENCES place (code),
    lot_id {{int}} NOT NULL,
    batch_id {{int}} NOT NULL,
    {{bool "device"}},
    qty {{int}} NOT NULL CHECK (qty > 0),
    PRIMARY KEY (place, lot_id),
    FOREIGN KEY (lot_id, batch_id, device) REFERENCES lot (id, batch_id, device),
    CHECK (NOT device OR qty = 1)
){{clustered}};

CREATE UNIQUE INDEX balance_device ON balance (batch_id) WHERE device;
CREATE INDEX balance_lot ON balance (lot_id);
CREATE INDEX balance_batch ON balance (batch_id);

-- What moved a bag's position on.
CREATE TABLE bag_event (
    bag {{text}} NOT NULL REFERENCES bag (code),
    position {{int}} NOT NULL CHECK (position > 0),
    kind {{text}} NOT NULL CHECK (kind IN ('movement', 'seal', 'list')),
    movement_id {{int}} REFERENCES movement (id),
    seal_id {{int}} REFERENCES seal (id),
    PRIMARY KEY (bag, position),
    CHECK ((kind = 'movement') = (movement_id IS NOT NULL)),
    CHECK ((kind = 'seal') = (seal_id IS NOT NULL))
){{clustered}};
