CREATE TABLE actor (
    id INTEGER PRIMARY KEY,
    name TEXT NOT NULL UNIQUE
) STRICT;

CREATE TABLE answer (
    request_key TEXT NOT NULL,
    principal TEXT NOT NULL,
    method TEXT NOT NULL,
    path TEXT NOT NULL,
    body_hash TEXT NOT NULL,
    status INTEGER NOT NULL,
    content_type TEXT NOT NULL,
    body BLOB NOT NULL,
    created_at TEXT CHECK (created_at IS strftime('%Y-%m-%dT%H:%M:%S', created_at) || substr(created_at, 20) AND substr(created_at, 20) GLOB '.[0-9][0-9][0-9][0-9][0-9][0-9]Z') NOT NULL,
    PRIMARY KEY (request_key, principal, method, path)
) STRICT;

CREATE TABLE bag (
    code TEXT PRIMARY KEY REFERENCES place (code),
    kit_list TEXT NOT NULL,
    kit_list_version INTEGER NOT NULL,
    priority INTEGER NOT NULL CHECK (priority BETWEEN 1 AND 9),
    vehicle TEXT NOT NULL,
    inside TEXT REFERENCES bag (code) CHECK (inside <> code),
    out_of_service_reason TEXT NOT NULL,
    out_of_service_by TEXT NOT NULL,
    out_of_service_at TEXT CHECK (out_of_service_at IS strftime('%Y-%m-%dT%H:%M:%S', out_of_service_at) || substr(out_of_service_at, 20) AND substr(out_of_service_at, 20) GLOB '.[0-9][0-9][0-9][0-9][0-9][0-9]Z'),
    version INTEGER NOT NULL CHECK (version > 0),
    position INTEGER NOT NULL CHECK (position >= 0),
    seal TEXT NOT NULL,
    seal_state TEXT NOT NULL CHECK (seal_state IN ('', 'intact', 'broken', 'different')),
    seal_seen_at TEXT CHECK (seal_seen_at IS strftime('%Y-%m-%dT%H:%M:%S', seal_seen_at) || substr(seal_seen_at, 20) AND substr(seal_seen_at, 20) GLOB '.[0-9][0-9][0-9][0-9][0-9][0-9]Z'),
    last_seal_check TEXT CHECK (last_seal_check IS strftime('%Y-%m-%dT%H:%M:%S', last_seal_check) || substr(last_seal_check, 20) AND substr(last_seal_check, 20) GLOB '.[0-9][0-9][0-9][0-9][0-9][0-9]Z'),
    last_full_check TEXT CHECK (last_full_check IS strftime('%Y-%m-%dT%H:%M:%S', last_full_check) || substr(last_full_check, 20) AND substr(last_full_check, 20) GLOB '.[0-9][0-9][0-9][0-9][0-9][0-9]Z'),
    last_use TEXT CHECK (last_use IS strftime('%Y-%m-%dT%H:%M:%S', last_use) || substr(last_use, 20) AND substr(last_use, 20) GLOB '.[0-9][0-9][0-9][0-9][0-9][0-9]Z'),
    last_restock TEXT CHECK (last_restock IS strftime('%Y-%m-%dT%H:%M:%S', last_restock) || substr(last_restock, 20) AND substr(last_restock, 20) GLOB '.[0-9][0-9][0-9][0-9][0-9][0-9]Z'), retired_at TEXT CHECK (retired_at IS strftime('%Y-%m-%dT%H:%M:%S', retired_at) || substr(retired_at, 20) AND substr(retired_at, 20) GLOB '.[0-9][0-9][0-9][0-9][0-9][0-9]Z'), retired_by TEXT NOT NULL DEFAULT '' CHECK ((retired_at IS NULL) = (retired_by = '')), successor TEXT REFERENCES bag (code)
    CHECK (successor IS NULL OR (successor <> code AND retired_at IS NOT NULL)),
    FOREIGN KEY (kit_list, kit_list_version) REFERENCES kit_list (code, version),
    CHECK ((out_of_service_at IS NULL) = (out_of_service_reason = ''))
) STRICT;

CREATE INDEX bag_inside ON bag (inside) WHERE inside IS NOT NULL;

CREATE INDEX bag_kit_list ON bag (kit_list, kit_list_version);

CREATE INDEX bag_successor ON bag (successor) WHERE successor IS NOT NULL;

CREATE TABLE "bag_check" (
    id INTEGER PRIMARY KEY,
    bag TEXT NOT NULL REFERENCES bag (code),
    kind TEXT NOT NULL CHECK (kind IN ('seal', 'full')),
    happened_at TEXT CHECK (happened_at IS strftime('%Y-%m-%dT%H:%M:%S', happened_at) || substr(happened_at, 20) AND substr(happened_at, 20) GLOB '.[0-9][0-9][0-9][0-9][0-9][0-9]Z') NOT NULL,
    recorded_at TEXT CHECK (recorded_at IS strftime('%Y-%m-%dT%H:%M:%S', recorded_at) || substr(recorded_at, 20) AND substr(recorded_at, 20) GLOB '.[0-9][0-9][0-9][0-9][0-9][0-9]Z') NOT NULL,
    by_name TEXT NOT NULL,
    seen_position INTEGER NOT NULL,
    seal_seen TEXT NOT NULL,
    seal_broken INTEGER NOT NULL CHECK (seal_broken IN (0, 1)),
    seal_set TEXT NOT NULL,
    lines TEXT CHECK (json_valid(lines)) NOT NULL,
    found TEXT CHECK (json_valid(found)) NOT NULL,
    inspections TEXT CHECK (json_valid(inspections)) NOT NULL,
    note TEXT NOT NULL,
    status TEXT NOT NULL CHECK (status IN ('accepted', 'to_review', 'rejected', 'withdrawn')),
    review_because TEXT NOT NULL,
    decision TEXT CHECK (decision IS NULL OR json_valid(decision)),
    request_key TEXT,
    return_to_service INTEGER NOT NULL CHECK (return_to_service IN (0, 1)), not_counted INTEGER NOT NULL DEFAULT 0, sent_by TEXT NOT NULL DEFAULT '',
    UNIQUE (request_key)
) STRICT;

CREATE INDEX bag_check_bag ON bag_check (bag);

CREATE INDEX bag_check_to_review ON bag_check (status) WHERE status = 'to_review';

CREATE TABLE bag_event (
    bag TEXT NOT NULL REFERENCES bag (code),
    position INTEGER NOT NULL CHECK (position > 0),
    kind TEXT NOT NULL CHECK (kind IN ('movement', 'seal', 'list')),
    movement_id INTEGER REFERENCES movement (id),
    seal_id INTEGER REFERENCES seal (id),
    PRIMARY KEY (bag, position),
    CHECK ((kind = 'movement') = (movement_id IS NOT NULL)),
    CHECK ((kind = 'seal') = (seal_id IS NOT NULL))
) STRICT, WITHOUT ROWID;

CREATE TABLE "bag_log" (
    id INTEGER PRIMARY KEY,
    bag TEXT NOT NULL REFERENCES bag (code),
    recorded_at TEXT CHECK (recorded_at IS strftime('%Y-%m-%dT%H:%M:%S', recorded_at) || substr(recorded_at, 20) AND substr(recorded_at, 20) GLOB '.[0-9][0-9][0-9][0-9][0-9][0-9]Z') NOT NULL,
    by_name TEXT NOT NULL,
    kind TEXT NOT NULL CHECK (kind IN ('vehicle', 'station', 'inside', 'module', 'kit_list', 'out_of_service', 'return_to_service')),
    old_value TEXT NOT NULL,
    new_value TEXT NOT NULL,
    reason TEXT NOT NULL
) STRICT;

CREATE INDEX bag_log_bag ON bag_log (bag);

CREATE TABLE "bag_use" (
    id INTEGER PRIMARY KEY,
    bag TEXT NOT NULL REFERENCES bag (code),
    incident TEXT NOT NULL,
    happened_at TEXT CHECK (happened_at IS strftime('%Y-%m-%dT%H:%M:%S', happened_at) || substr(happened_at, 20) AND substr(happened_at, 20) GLOB '.[0-9][0-9][0-9][0-9][0-9][0-9]Z') NOT NULL,
    recorded_at TEXT CHECK (recorded_at IS strftime('%Y-%m-%dT%H:%M:%S', recorded_at) || substr(recorded_at, 20) AND substr(recorded_at, 20) GLOB '.[0-9][0-9][0-9][0-9][0-9][0-9]Z') NOT NULL,
    by_name TEXT NOT NULL,
    seen_position INTEGER NOT NULL,
    seal_seen TEXT NOT NULL,
    seal_set TEXT NOT NULL,
    lines TEXT CHECK (json_valid(lines)) NOT NULL,
    note TEXT NOT NULL,
    status TEXT NOT NULL CHECK (status IN ('accepted', 'to_review', 'rejected', 'withdrawn')),
    review_because TEXT NOT NULL,
    decision TEXT CHECK (decision IS NULL OR json_valid(decision)),
    request_key TEXT, sent_by TEXT NOT NULL DEFAULT '',
    UNIQUE (request_key)
) STRICT;

CREATE INDEX bag_use_bag ON bag_use (bag);

CREATE INDEX bag_use_to_review ON bag_use (status) WHERE status = 'to_review';

CREATE TABLE balance (
    place TEXT NOT NULL REFERENCES place (code),
    lot_id INTEGER NOT NULL,
    batch_id INTEGER NOT NULL,
    device INTEGER NOT NULL CHECK (device IN (0, 1)),
    qty INTEGER NOT NULL CHECK (qty > 0),
    PRIMARY KEY (place, lot_id),
    FOREIGN KEY (lot_id, batch_id, device) REFERENCES lot (id, batch_id, device),
    CHECK (NOT device OR qty = 1)
) STRICT, WITHOUT ROWID;

CREATE INDEX balance_batch ON balance (batch_id);

CREATE UNIQUE INDEX balance_device ON balance (batch_id) WHERE device;

CREATE INDEX balance_lot ON balance (lot_id);

CREATE TABLE balance_check (
    id INTEGER PRIMARY KEY,
    item TEXT NOT NULL REFERENCES item (code),
    place TEXT NOT NULL REFERENCES place (code),
    counted INTEGER NOT NULL CHECK (counted >= 0),
    expected INTEGER NOT NULL CHECK (expected >= 0),
    after_movement INTEGER REFERENCES movement (id),
    happened_at TEXT CHECK (happened_at IS strftime('%Y-%m-%dT%H:%M:%S', happened_at) || substr(happened_at, 20) AND substr(happened_at, 20) GLOB '.[0-9][0-9][0-9][0-9][0-9][0-9]Z') NOT NULL,
    recorded_at TEXT CHECK (recorded_at IS strftime('%Y-%m-%dT%H:%M:%S', recorded_at) || substr(recorded_at, 20) AND substr(recorded_at, 20) GLOB '.[0-9][0-9][0-9][0-9][0-9][0-9]Z') NOT NULL,
    by_name TEXT NOT NULL CHECK (by_name <> ''),
    witness TEXT NOT NULL CHECK (witness <> '' AND witness <> by_name),
    note TEXT NOT NULL
) STRICT;

CREATE INDEX balance_check_page ON balance_check (item, place);

CREATE TABLE batch (
    id INTEGER PRIMARY KEY,
    item TEXT NOT NULL REFERENCES item (code),
    product INTEGER REFERENCES product (id),
    batch_no TEXT NOT NULL,
    serial TEXT NOT NULL,
    device INTEGER NOT NULL CHECK (device IN (0, 1)),
    made_on TEXT CHECK (made_on IS date(made_on)),
    end_printed TEXT NOT NULL,
    last_usable TEXT CHECK (last_usable IS date(last_usable)), inspected_on TEXT CHECK (inspected_on IS date(inspected_on)), cycles INTEGER NOT NULL DEFAULT 0 CHECK (cycles >= 0), inspect_by TEXT CHECK (inspect_by IS date(inspect_by)), withdrawn TEXT NOT NULL DEFAULT '', formerly TEXT CHECK (json_valid(formerly)) NOT NULL DEFAULT '[]', numbers TEXT NOT NULL DEFAULT '', merged_into INTEGER REFERENCES batch (id), end_wording TEXT NOT NULL DEFAULT ''
    CHECK (end_wording IN ('', 'expiry', 'hourglass', 'use_by', 'use_before', 'unstated')),
    UNIQUE (id, device),
    CHECK (device = (serial <> ''))
) STRICT;

CREATE INDEX batch_item ON batch (item, batch_no);

CREATE INDEX batch_merged ON batch (merged_into) WHERE merged_into IS NOT NULL;

CREATE UNIQUE INDEX batch_number ON batch (item, coalesce(product, 0), batch_no) WHERE NOT device AND batch_no <> '' AND merged_into IS NULL;

CREATE INDEX batch_numberless ON batch (item) WHERE batch_no = '' AND serial = '';

CREATE UNIQUE INDEX batch_serial ON batch (item, serial) WHERE device;

CREATE TABLE batch_correction (
    id INTEGER PRIMARY KEY,
    batch_id INTEGER NOT NULL REFERENCES batch (id),
    recorded_at TEXT CHECK (recorded_at IS strftime('%Y-%m-%dT%H:%M:%S', recorded_at) || substr(recorded_at, 20) AND substr(recorded_at, 20) GLOB '.[0-9][0-9][0-9][0-9][0-9][0-9]Z') NOT NULL,
    by_name TEXT NOT NULL,
    reason TEXT NOT NULL CHECK (reason <> ''),
    old_value TEXT CHECK (old_value IS NULL OR json_valid(old_value)),
    new_value TEXT CHECK (new_value IS NULL OR json_valid(new_value))
, merged INTEGER REFERENCES batch (id)) STRICT;

CREATE INDEX batch_correction_batch ON batch_correction (batch_id);

CREATE TABLE category (
    name TEXT PRIMARY KEY CHECK (length(name) BETWEEN 1 AND 120)
) STRICT, WITHOUT ROWID;

CREATE TABLE conversion (
    id INTEGER PRIMARY KEY,
    item TEXT NOT NULL REFERENCES item (code),
    old_unit TEXT NOT NULL,
    new_unit TEXT NOT NULL,
    old_qty INTEGER NOT NULL CHECK (old_qty > 0),
    new_qty INTEGER NOT NULL CHECK (new_qty > 0),
    until INTEGER NOT NULL CHECK (until >= 0),
    recorded_at TEXT CHECK (recorded_at IS strftime('%Y-%m-%dT%H:%M:%S', recorded_at) || substr(recorded_at, 20) AND substr(recorded_at, 20) GLOB '.[0-9][0-9][0-9][0-9][0-9][0-9]Z') NOT NULL,
    by_name TEXT NOT NULL,
    witness TEXT NOT NULL,
    reason TEXT NOT NULL
) STRICT;

CREATE TABLE delivery (
    id INTEGER PRIMARY KEY,
    place TEXT NOT NULL REFERENCES place (code),
    reference TEXT NOT NULL,
    status TEXT NOT NULL CHECK (status IN ('open', 'put_away', 'dropped')),
    started_at TEXT CHECK (started_at IS strftime('%Y-%m-%dT%H:%M:%S', started_at) || substr(started_at, 20) AND substr(started_at, 20) GLOB '.[0-9][0-9][0-9][0-9][0-9][0-9]Z') NOT NULL,
    started_by TEXT NOT NULL,
    ended_at TEXT CHECK (ended_at IS strftime('%Y-%m-%dT%H:%M:%S', ended_at) || substr(ended_at, 20) AND substr(ended_at, 20) GLOB '.[0-9][0-9][0-9][0-9][0-9][0-9]Z'),
    ended_by TEXT NOT NULL,
    last_line INTEGER NOT NULL,
    lines TEXT CHECK (json_valid(lines)) NOT NULL,
    CHECK ((ended_at IS NULL) = (status = 'open'))
) STRICT;

CREATE INDEX delivery_open ON delivery (place) WHERE status = 'open';

CREATE TABLE discrepancy (
    id INTEGER PRIMARY KEY,
    item TEXT NOT NULL REFERENCES item (code),
    place TEXT NOT NULL REFERENCES place (code),
    check_id INTEGER REFERENCES balance_check (id),
    movement_id INTEGER REFERENCES movement (id),
    body TEXT NOT NULL,
    opened_at TEXT CHECK (opened_at IS strftime('%Y-%m-%dT%H:%M:%S', opened_at) || substr(opened_at, 20) AND substr(opened_at, 20) GLOB '.[0-9][0-9][0-9][0-9][0-9][0-9]Z') NOT NULL,
    opened_by TEXT NOT NULL,
    closed_at TEXT CHECK (closed_at IS strftime('%Y-%m-%dT%H:%M:%S', closed_at) || substr(closed_at, 20) AND substr(closed_at, 20) GLOB '.[0-9][0-9][0-9][0-9][0-9][0-9]Z'),
    closed_by TEXT NOT NULL,
    witness TEXT NOT NULL,
    outcome TEXT NOT NULL,
    CHECK ((check_id IS NULL) <> (movement_id IS NULL)),
    CHECK ((closed_at IS NULL) = (outcome = '')),
    CHECK ((closed_at IS NULL) = (witness = '') AND (witness = '' OR witness <> closed_by))
) STRICT;

CREATE INDEX discrepancy_open ON discrepancy (item, place) WHERE closed_at IS NULL;

CREATE TABLE document (
    id INTEGER PRIMARY KEY,
    kind TEXT NOT NULL CHECK (kind IN ('transfer', 'transfer_receipt', 'count', 'order')),
    of_document INTEGER REFERENCES document (id),
    station TEXT NOT NULL REFERENCES station (code),
    other_station TEXT REFERENCES station (code),
    place TEXT REFERENCES place (code),
    status TEXT NOT NULL CHECK (status <> ''),
    opened_at TEXT CHECK (opened_at IS strftime('%Y-%m-%dT%H:%M:%S', opened_at) || substr(opened_at, 20) AND substr(opened_at, 20) GLOB '.[0-9][0-9][0-9][0-9][0-9][0-9]Z') NOT NULL,
    opened_by TEXT NOT NULL,
    ended_at TEXT CHECK (ended_at IS strftime('%Y-%m-%dT%H:%M:%S', ended_at) || substr(ended_at, 20) AND substr(ended_at, 20) GLOB '.[0-9][0-9][0-9][0-9][0-9][0-9]Z'),
    ended_by TEXT NOT NULL,
    body TEXT CHECK (json_valid(body)) NOT NULL,
    CHECK ((kind = 'transfer_receipt') = (of_document IS NOT NULL)),
    CHECK ((ended_at IS NULL) = (ended_by = ''))
) STRICT;

CREATE INDEX document_open ON document (kind) WHERE ended_at IS NULL;

CREATE INDEX document_place ON document (kind, place);

CREATE TABLE "history_entry" (
    id INTEGER PRIMARY KEY,
    recorded_at TEXT CHECK (recorded_at IS strftime('%Y-%m-%dT%H:%M:%S', recorded_at) || substr(recorded_at, 20) AND substr(recorded_at, 20) GLOB '.[0-9][0-9][0-9][0-9][0-9][0-9]Z') NOT NULL,
    by_name TEXT NOT NULL,
    from_terminal TEXT NOT NULL,
    kind TEXT NOT NULL CHECK (kind <> ''),
    station TEXT NOT NULL,
    place TEXT NOT NULL,
    other_place TEXT NOT NULL,
    lot_id INTEGER,
    batch_id INTEGER,
    person TEXT NOT NULL,
    detail TEXT NOT NULL
, chain TEXT NOT NULL DEFAULT '', seq INTEGER, facts TEXT NOT NULL DEFAULT '', hash TEXT NOT NULL DEFAULT '') STRICT;

CREATE INDEX history_entry_batch ON history_entry (batch_id) WHERE batch_id IS NOT NULL;

CREATE INDEX history_entry_by ON history_entry (by_name);

CREATE UNIQUE INDEX history_entry_chain ON history_entry (chain, seq) WHERE seq IS NOT NULL;

CREATE INDEX history_entry_lot ON history_entry (lot_id) WHERE lot_id IS NOT NULL;

CREATE INDEX history_entry_other_place ON history_entry (other_place) WHERE other_place <> '';

CREATE INDEX history_entry_place ON history_entry (place) WHERE place <> '';

CREATE INDEX history_entry_recorded_at ON history_entry (recorded_at);

CREATE TABLE inspection (
    id INTEGER PRIMARY KEY,
    batch_id INTEGER NOT NULL,
    lot_id INTEGER NOT NULL,
    item TEXT NOT NULL REFERENCES item (code),
    place TEXT NOT NULL REFERENCES place (code),
    happened_at TEXT CHECK (happened_at IS strftime('%Y-%m-%dT%H:%M:%S', happened_at) || substr(happened_at, 20) AND substr(happened_at, 20) GLOB '.[0-9][0-9][0-9][0-9][0-9][0-9]Z') NOT NULL,
    recorded_at TEXT CHECK (recorded_at IS strftime('%Y-%m-%dT%H:%M:%S', recorded_at) || substr(recorded_at, 20) AND substr(recorded_at, 20) GLOB '.[0-9][0-9][0-9][0-9][0-9][0-9]Z') NOT NULL,
    by_name TEXT NOT NULL,
    role TEXT NOT NULL CHECK (role IN ('crew', 'quartermaster', 'manager', 'administrator')),
    points TEXT CHECK (json_valid(points)) NOT NULL,
    passed INTEGER NOT NULL CHECK (passed IN (0, 1)),
    source TEXT NOT NULL,
    note TEXT NOT NULL,
    FOREIGN KEY (lot_id, batch_id) REFERENCES lot (id, batch_id)
) STRICT;

CREATE INDEX inspection_batch ON inspection (batch_id);

CREATE TABLE item (
    code TEXT PRIMARY KEY CHECK (length(code) BETWEEN 1 AND 40),
    name TEXT NOT NULL,
    search TEXT NOT NULL,
    category TEXT NOT NULL REFERENCES category (name),
    unit TEXT NOT NULL,
    tracked_by TEXT NOT NULL CHECK (tracked_by IN ('lot', 'serial')),
    dated INTEGER NOT NULL CHECK (dated IN (0, 1)),
    single_use INTEGER NOT NULL CHECK (single_use IN (0, 1)),
    controlled INTEGER NOT NULL CHECK (controlled IN (0, 1)),
    made_months INTEGER NOT NULL CHECK (made_months >= 0),
    stowed_months INTEGER NOT NULL CHECK (stowed_months >= 0),
    exposed_days INTEGER NOT NULL CHECK (exposed_days >= 0),
    opened_days INTEGER NOT NULL CHECK (opened_days >= 0),
    inspect_days INTEGER NOT NULL CHECK (inspect_days >= 0),
    training_cycles INTEGER NOT NULL CHECK (training_cycles >= 0),
    inspection_points TEXT CHECK (json_valid(inspection_points)) NOT NULL,
    lead_time_days INTEGER NOT NULL CHECK (lead_time_days >= 0),
    version INTEGER NOT NULL CHECK (version > 0)
, preferred_product INTEGER REFERENCES product (id), inspection_notes TEXT CHECK (json_valid(inspection_notes)) NOT NULL DEFAULT '[]', strength TEXT NOT NULL DEFAULT '', form TEXT NOT NULL DEFAULT '', content_quantity TEXT NOT NULL DEFAULT '', content_unit TEXT NOT NULL DEFAULT '', reserve INTEGER NOT NULL DEFAULT 0) STRICT;

CREATE INDEX item_category ON item (category);

CREATE TABLE kept (
    bag TEXT PRIMARY KEY,
    at_station TEXT NOT NULL DEFAULT '',
    seal TEXT NOT NULL DEFAULT '',
    judged_at INTEGER NOT NULL DEFAULT 0,
    until INTEGER,
    purpose TEXT NOT NULL DEFAULT '',
    inside TEXT NOT NULL DEFAULT '',
    state TEXT NOT NULL DEFAULT '',
    first_stop INTEGER NOT NULL DEFAULT 0,
    first_lot INTEGER NOT NULL DEFAULT 0,
    judged TEXT NOT NULL DEFAULT ''
) STRICT, WITHOUT ROWID;

CREATE INDEX kept_first_stop ON kept (first_stop, bag) WHERE first_stop > 0;

CREATE INDEX kept_says ON kept (bag) WHERE judged <> '';

CREATE INDEX kept_seal ON kept (seal) WHERE seal <> '';

CREATE TABLE kit_accept (
    list TEXT NOT NULL,
    version INTEGER NOT NULL,
    line INTEGER NOT NULL,
    rank INTEGER NOT NULL CHECK (rank >= 0),
    item TEXT NOT NULL REFERENCES item (code),
    PRIMARY KEY (list, version, line, rank),
    UNIQUE (list, version, line, item),
    FOREIGN KEY (list, version, line) REFERENCES kit_line (list, version, line)
) STRICT, WITHOUT ROWID;

CREATE TABLE kit_line (
    list TEXT NOT NULL,
    version INTEGER NOT NULL,
    line INTEGER NOT NULL CHECK (line >= 0),
    item TEXT NOT NULL REFERENCES item (code),
    pouch TEXT NOT NULL,
    par INTEGER NOT NULL CHECK (par >= 0),
    minimum INTEGER NOT NULL CHECK (minimum >= 0),
    critical INTEGER NOT NULL CHECK (critical IN (0, 1)),
    presence_only INTEGER NOT NULL CHECK (presence_only IN (0, 1)),
    carried_elsewhere TEXT NOT NULL,
    PRIMARY KEY (list, version, line),
    FOREIGN KEY (list, version) REFERENCES kit_list (code, version)
) STRICT, WITHOUT ROWID;

CREATE INDEX kit_line_item ON kit_line (item);

CREATE TABLE kit_list (
    code TEXT NOT NULL CHECK (length(code) BETWEEN 1 AND 40),
    version INTEGER NOT NULL CHECK (version > 0),
    name TEXT NOT NULL,
    edition TEXT NOT NULL,
    source TEXT NOT NULL,
    valid_from TEXT CHECK (valid_from IS date(valid_from)),
    valid_to TEXT CHECK (valid_to IS date(valid_to)),
    sealed INTEGER NOT NULL CHECK (sealed IN (0, 1)),
    seal_warns INTEGER NOT NULL CHECK (seal_warns IN (0, 1)),
    seal_check_hours INTEGER NOT NULL CHECK (seal_check_hours >= 0),
    full_check_days INTEGER NOT NULL CHECK (full_check_days >= 0),
    min_remaining_days INTEGER NOT NULL CHECK (min_remaining_days >= 0),
    PRIMARY KEY (code, version),
    CHECK (valid_to >= valid_from)
) STRICT;

CREATE TABLE kit_module (
    list TEXT NOT NULL,
    version INTEGER NOT NULL,
    rank INTEGER NOT NULL CHECK (rank >= 0),
    module TEXT NOT NULL,
    count INTEGER NOT NULL CHECK (count > 0),
    PRIMARY KEY (list, version, rank),
    UNIQUE (list, version, module),
    FOREIGN KEY (list, version) REFERENCES kit_list (code, version)
) STRICT, WITHOUT ROWID;

CREATE TABLE kit_rule (
    list TEXT NOT NULL,
    version INTEGER NOT NULL,
    rank INTEGER NOT NULL CHECK (rank >= 0),
    when_category TEXT REFERENCES category (name),
    need_category TEXT REFERENCES category (name),
    need_item TEXT REFERENCES item (code),
    at_least INTEGER NOT NULL CHECK (at_least > 0),
    severity TEXT NOT NULL CHECK (severity IN ('stop', 'warn')),
    because TEXT NOT NULL,
    PRIMARY KEY (list, version, rank),
    FOREIGN KEY (list, version) REFERENCES kit_list (code, version),
    CHECK ((need_category IS NULL) <> (need_item IS NULL))
) STRICT, WITHOUT ROWID;

CREATE TABLE lot (
    id INTEGER PRIMARY KEY,
    batch_id INTEGER NOT NULL,
    device INTEGER NOT NULL CHECK (device IN (0, 1)),
    stowed_on TEXT CHECK (stowed_on IS date(stowed_on)),
    opened_on TEXT CHECK (opened_on IS date(opened_on)),
    exposed_since TEXT CHECK (exposed_since IS date(exposed_since)),
    exposed_days INTEGER NOT NULL CHECK (exposed_days >= 0),
    exposed_last TEXT CHECK (exposed_last IS date(exposed_last)),
    training INTEGER NOT NULL CHECK (training IN (0, 1)),
    unidentified INTEGER NOT NULL CHECK (unidentified IN (0, 1)),
    parent INTEGER REFERENCES lot (id),
    received_on TEXT CHECK (received_on IS date(received_on)),
    UNIQUE (id, batch_id),
    UNIQUE (id, batch_id, device),
    FOREIGN KEY (batch_id, device) REFERENCES batch (id, device)
) STRICT;

CREATE UNIQUE INDEX lot_clocks ON lot (
    batch_id, coalesce(stowed_on, ''), coalesce(opened_on, ''), coalesce(exposed_since, ''), exposed_days,
    coalesce(exposed_last, ''), training, unidentified
);

CREATE TABLE movement (
    id INTEGER PRIMARY KEY,
    station TEXT NOT NULL REFERENCES "station" (code),
    seq INTEGER NOT NULL CHECK (seq > 0),
    lot_id INTEGER NOT NULL,
    into_lot_id INTEGER NOT NULL,
    batch_id INTEGER NOT NULL,
    qty INTEGER NOT NULL CHECK (qty > 0),
    from_place TEXT NOT NULL REFERENCES place (code),
    to_place TEXT NOT NULL REFERENCES place (code),
    reason TEXT NOT NULL CHECK (reason IN ('receipt', 'opening', 'stow', 'return', 'transfer', 'to_training', 'quarantine',
        'release', 'away', 'used', 'disposed', 'lost', 'found', 'correction', 'to_supplier', 'converted')),
    cause TEXT NOT NULL CHECK (cause IN ('', 'expired', 'damaged', 'wasted', 'training', 'recalled', 'missing', 'other')),
    happened_at TEXT CHECK (happened_at IS strftime('%Y-%m-%dT%H:%M:%S', happened_at) || substr(happened_at, 20) AND substr(happened_at, 20) GLOB '.[0-9][0-9][0-9][0-9][0-9][0-9]Z') NOT NULL,
    recorded_at TEXT CHECK (recorded_at IS strftime('%Y-%m-%dT%H:%M:%S', recorded_at) || substr(recorded_at, 20) AND substr(recorded_at, 20) GLOB '.[0-9][0-9][0-9][0-9][0-9][0-9]Z') NOT NULL,
    by_name TEXT NOT NULL,
    witness TEXT NOT NULL,
    reference TEXT NOT NULL,
    note TEXT NOT NULL,
    corrects INTEGER REFERENCES movement (id),
    prev_hash TEXT NOT NULL CHECK (length(prev_hash) = 64 OR seq = 1 AND prev_hash = ''),
    hash TEXT NOT NULL CHECK (length(hash) = 64),
    UNIQUE (station, seq),
    UNIQUE (corrects),
    FOREIGN KEY (lot_id, batch_id) REFERENCES lot (id, batch_id),
    FOREIGN KEY (into_lot_id, batch_id) REFERENCES lot (id, batch_id),
    CHECK (from_place <> to_place OR lot_id <> into_lot_id),
    CHECK ((reason = 'correction') = (corrects IS NOT NULL))
) STRICT;

CREATE INDEX movement_batch ON movement (batch_id);

CREATE INDEX movement_from ON movement (from_place);

CREATE INDEX movement_into_lot ON movement (into_lot_id);

CREATE INDEX movement_lot ON movement (lot_id);

CREATE INDEX movement_reference ON movement (reference) WHERE reference <> '';

CREATE INDEX movement_to ON movement (to_place);

CREATE TABLE notice (
    id INTEGER PRIMARY KEY,
    reference TEXT NOT NULL CHECK (reference <> ''),
    action TEXT NOT NULL CHECK (action IN ('withdraw', 'inspect', 'inform')),
    item TEXT NOT NULL REFERENCES item (code),
    product INTEGER REFERENCES product (id),
    batch_nos TEXT CHECK (json_valid(batch_nos)) NOT NULL,
    serials TEXT CHECK (json_valid(serials)) NOT NULL,
    serial_from TEXT NOT NULL,
    serial_to TEXT NOT NULL,
    made_from TEXT CHECK (made_from IS date(made_from)),
    made_to TEXT CHECK (made_to IS date(made_to)),
    body TEXT NOT NULL,
    status TEXT NOT NULL CHECK (status IN ('open', 'closed', 'cancelled')),
    issued_at TEXT CHECK (issued_at IS strftime('%Y-%m-%dT%H:%M:%S', issued_at) || substr(issued_at, 20) AND substr(issued_at, 20) GLOB '.[0-9][0-9][0-9][0-9][0-9][0-9]Z') NOT NULL,
    issued_by TEXT NOT NULL,
    ended_at TEXT CHECK (ended_at IS strftime('%Y-%m-%dT%H:%M:%S', ended_at) || substr(ended_at, 20) AND substr(ended_at, 20) GLOB '.[0-9][0-9][0-9][0-9][0-9][0-9]Z'),
    ended_by TEXT NOT NULL,
    end_reason TEXT NOT NULL, steps TEXT CHECK (json_valid(steps)) NOT NULL DEFAULT '[]',
    CHECK ((status = 'open') = (ended_at IS NULL)),
    CHECK ((serial_from = '') = (serial_to = '')),
    CHECK ((made_from IS NULL) = (made_to IS NULL))
) STRICT;

CREATE INDEX notice_item ON notice (item);

CREATE UNIQUE INDEX notice_reference ON notice (item, reference) WHERE status <> 'cancelled';

CREATE TABLE observation (
    id INTEGER PRIMARY KEY,
    bag TEXT NOT NULL REFERENCES bag (code),
    kind TEXT NOT NULL CHECK (kind IN ('training_mark', 'other_seal', 'failed_point', 'unidentified', 'not_in_ledger')),
    item TEXT REFERENCES item (code),
    lot_id INTEGER REFERENCES lot (id),
    body TEXT NOT NULL,
    source TEXT NOT NULL,
    opened_at TEXT CHECK (opened_at IS strftime('%Y-%m-%dT%H:%M:%S', opened_at) || substr(opened_at, 20) AND substr(opened_at, 20) GLOB '.[0-9][0-9][0-9][0-9][0-9][0-9]Z') NOT NULL,
    opened_by TEXT NOT NULL,
    closed_at TEXT CHECK (closed_at IS strftime('%Y-%m-%dT%H:%M:%S', closed_at) || substr(closed_at, 20) AND substr(closed_at, 20) GLOB '.[0-9][0-9][0-9][0-9][0-9][0-9]Z'),
    closed_by TEXT NOT NULL,
    close_reason TEXT NOT NULL,
    CHECK ((closed_at IS NULL) = (close_reason = ''))
) STRICT;

CREATE INDEX observation_bag ON observation (bag);

CREATE INDEX observation_open ON observation (bag) WHERE closed_at IS NULL;

CREATE TABLE one_time_link (
    hash TEXT PRIMARY KEY,
    kind TEXT NOT NULL CHECK (kind IN ('welcome', 'enrol')),
    terminal INTEGER REFERENCES terminal (id),
    ends_at TEXT CHECK (ends_at IS strftime('%Y-%m-%dT%H:%M:%S', ends_at) || substr(ends_at, 20) AND substr(ends_at, 20) GLOB '.[0-9][0-9][0-9][0-9][0-9][0-9]Z') NOT NULL,
    CHECK ((kind = 'enrol') = (terminal IS NOT NULL))
) STRICT;

CREATE TABLE past_usage (
    station TEXT NOT NULL REFERENCES "station" (code),
    item TEXT NOT NULL REFERENCES item (code),
    period TEXT NOT NULL CHECK (length(period) IN (7, 10)),
    qty INTEGER NOT NULL CHECK (qty >= 0),
    PRIMARY KEY (station, item, period)
) STRICT, WITHOUT ROWID;

CREATE INDEX past_usage_item ON past_usage (item);

CREATE TABLE person (
    id INTEGER PRIMARY KEY,
    name TEXT NOT NULL,
    folded TEXT NOT NULL UNIQUE,
    role TEXT NOT NULL CHECK (role IN ('crew', 'quartermaster', 'manager', 'administrator')),
    secret_hash TEXT NOT NULL,
    disabled INTEGER NOT NULL CHECK (disabled IN (0, 1)),
    attempts INTEGER NOT NULL CHECK (attempts >= 0),
    locked_till TEXT CHECK (locked_till IS strftime('%Y-%m-%dT%H:%M:%S', locked_till) || substr(locked_till, 20) AND substr(locked_till, 20) GLOB '.[0-9][0-9][0-9][0-9][0-9][0-9]Z')
) STRICT;

CREATE TABLE "person_station" (
    person INTEGER NOT NULL REFERENCES person (id),
    station TEXT NOT NULL REFERENCES "station" (code),
    PRIMARY KEY (person, station)
) STRICT, WITHOUT ROWID;

CREATE TABLE place (
    code TEXT PRIMARY KEY CHECK (length(code) BETWEEN 1 AND 40),
    station TEXT REFERENCES "station" (code),
    at_station TEXT REFERENCES "station" (code),
    kind TEXT NOT NULL CHECK (kind IN ('store', 'bag', 'carrier', 'quarantine', 'away', 'transit', 'supplier', 'used', 'disposed', 'lost', 'found')),
    purpose TEXT NOT NULL CHECK (purpose IN ('issue', 'training', '')),
    name TEXT NOT NULL,
    holder TEXT NOT NULL,
    due_back TEXT CHECK (due_back IS date(due_back)),
    version INTEGER NOT NULL CHECK (version > 0), vehicle TEXT NOT NULL DEFAULT '',
    CHECK ((kind IN ('supplier', 'used', 'disposed', 'lost', 'found')) = (station IS NULL)),
    CHECK ((station IS NULL) = (at_station IS NULL)),
    CHECK ((station IS NULL) = (purpose = '')),
    CHECK (station IS NOT NULL OR code = kind)
) STRICT;

CREATE INDEX place_at_station ON place (at_station, kind);

CREATE INDEX place_station ON place (station, kind);

CREATE INDEX place_vehicle ON place (vehicle) WHERE vehicle <> '';

CREATE TABLE place_moved (
    id INTEGER PRIMARY KEY,
    place TEXT NOT NULL REFERENCES place (code),
    station TEXT NOT NULL REFERENCES station (code),
    until INTEGER NOT NULL CHECK (until >= 0)
, moved_at TEXT CHECK (moved_at IS strftime('%Y-%m-%dT%H:%M:%S', moved_at) || substr(moved_at, 20) AND substr(moved_at, 20) GLOB '.[0-9][0-9][0-9][0-9][0-9][0-9]Z')) STRICT;

CREATE INDEX place_moved_place ON place_moved (place);

CREATE TABLE product (
    id INTEGER PRIMARY KEY,
    item TEXT NOT NULL REFERENCES item (code),
    gtin TEXT NOT NULL,
    hibc TEXT NOT NULL,
    maker_reference TEXT NOT NULL,
    supplier TEXT NOT NULL,
    pack_size INTEGER NOT NULL CHECK (pack_size > 0),
    version INTEGER NOT NULL CHECK (version > 0)
, minimum_packs INTEGER NOT NULL DEFAULT 0, prices TEXT CHECK (json_valid(prices)) NOT NULL DEFAULT '[]') STRICT;

CREATE INDEX product_gtin ON product (gtin) WHERE gtin <> '';

CREATE INDEX product_hibc ON product (hibc) WHERE hibc <> '';

CREATE INDEX product_item ON product (item);

CREATE TABLE register_owed (
    movement_id INTEGER NOT NULL REFERENCES movement (id),
    own INTEGER NOT NULL CHECK (own IN (0, 1)),
    PRIMARY KEY (movement_id)
) STRICT;

CREATE TABLE register_signature (
    id INTEGER PRIMARY KEY,
    movement_id INTEGER NOT NULL REFERENCES register_owed (movement_id),
    person TEXT NOT NULL CHECK (person <> ''),
    recorded_at TEXT CHECK (recorded_at IS strftime('%Y-%m-%dT%H:%M:%S', recorded_at) || substr(recorded_at, 20) AND substr(recorded_at, 20) GLOB '.[0-9][0-9][0-9][0-9][0-9][0-9]Z') NOT NULL,
    UNIQUE (movement_id, person)
) STRICT;

CREATE TABLE reported (
    id INTEGER PRIMARY KEY,
    check_id INTEGER REFERENCES bag_check (id),
    use_id INTEGER REFERENCES bag_use (id),
    place TEXT NOT NULL REFERENCES bag (code),
    kind TEXT NOT NULL CHECK (kind IN ('used', 'missing', 'damaged', 'expired', 'moved', 'failed', 'training_mark', 'unidentified', 'opened', 'broken', 'different')),
    item TEXT REFERENCES item (code),
    lot_id INTEGER REFERENCES lot (id),
    qty INTEGER NOT NULL CHECK (qty >= 0),
    settled INTEGER NOT NULL CHECK (settled >= 0),
    pool INTEGER NOT NULL CHECK (pool >= 0),
    note TEXT NOT NULL,
    CHECK ((check_id IS NULL) <> (use_id IS NULL))
) STRICT;

CREATE INDEX reported_check ON reported (check_id) WHERE check_id IS NOT NULL;

CREATE INDEX reported_use ON reported (use_id) WHERE use_id IS NOT NULL;

CREATE TABLE restock (
    id INTEGER PRIMARY KEY,
    bag TEXT NOT NULL REFERENCES bag (code),
    recorded_at TEXT CHECK (recorded_at IS strftime('%Y-%m-%dT%H:%M:%S', recorded_at) || substr(recorded_at, 20) AND substr(recorded_at, 20) GLOB '.[0-9][0-9][0-9][0-9][0-9][0-9]Z') NOT NULL,
    by_name TEXT NOT NULL,
    lines TEXT CHECK (json_valid(lines)) NOT NULL,
    take_out TEXT CHECK (json_valid(take_out)) NOT NULL,
    seal_set TEXT NOT NULL,
    note TEXT NOT NULL
, happened_at TEXT CHECK (happened_at IS strftime('%Y-%m-%dT%H:%M:%S', happened_at) || substr(happened_at, 20) AND substr(happened_at, 20) GLOB '.[0-9][0-9][0-9][0-9][0-9][0-9]Z')) STRICT;

CREATE INDEX restock_bag ON restock (bag);

CREATE TABLE seal (
    id INTEGER PRIMARY KEY,
    bag TEXT NOT NULL REFERENCES bag (code),
    happened_at TEXT CHECK (happened_at IS strftime('%Y-%m-%dT%H:%M:%S', happened_at) || substr(happened_at, 20) AND substr(happened_at, 20) GLOB '.[0-9][0-9][0-9][0-9][0-9][0-9]Z') NOT NULL,
    by_name TEXT NOT NULL,
    event TEXT NOT NULL CHECK (event IN ('set', 'seen', 'broken', 'different', 'opened')),
    number TEXT NOT NULL,
    expected TEXT NOT NULL,
    source TEXT NOT NULL
, note TEXT NOT NULL DEFAULT '') STRICT;

CREATE INDEX seal_bag ON seal (bag);

CREATE TABLE service (
    entry_seq INTEGER NOT NULL,
    entry_hash TEXT NOT NULL
, gaps INTEGER NOT NULL DEFAULT 0) STRICT;

CREATE TABLE session (
    hash TEXT PRIMARY KEY,
    person INTEGER NOT NULL REFERENCES person (id),
    device TEXT NOT NULL,
    created_at TEXT CHECK (created_at IS strftime('%Y-%m-%dT%H:%M:%S', created_at) || substr(created_at, 20) AND substr(created_at, 20) GLOB '.[0-9][0-9][0-9][0-9][0-9][0-9]Z') NOT NULL,
    seen_at TEXT CHECK (seen_at IS strftime('%Y-%m-%dT%H:%M:%S', seen_at) || substr(seen_at, 20) AND substr(seen_at, 20) GLOB '.[0-9][0-9][0-9][0-9][0-9][0-9]Z') NOT NULL,
    ends_at TEXT CHECK (ends_at IS strftime('%Y-%m-%dT%H:%M:%S', ends_at) || substr(ends_at, 20) AND substr(ends_at, 20) GLOB '.[0-9][0-9][0-9][0-9][0-9][0-9]Z') NOT NULL
, terminal INTEGER REFERENCES terminal (id)) STRICT;

CREATE INDEX session_ends ON session (ends_at);

CREATE INDEX session_person ON session (person);

CREATE INDEX session_terminal ON session (terminal) WHERE terminal IS NOT NULL;

CREATE TABLE sheet_offset (
    station TEXT NOT NULL REFERENCES "station" (code),
    sheet TEXT NOT NULL CHECK (sheet <> ''),
    right_by INTEGER NOT NULL CHECK (right_by BETWEEN -500 AND 500),
    down_by INTEGER NOT NULL CHECK (down_by BETWEEN -500 AND 500),
    PRIMARY KEY (station, sheet)
) STRICT, WITHOUT ROWID;

CREATE TABLE "sign_in_attempt" (
    subject TEXT PRIMARY KEY,
    attempts INTEGER NOT NULL CHECK (attempts >= 0),
    last_at TEXT CHECK (last_at IS strftime('%Y-%m-%dT%H:%M:%S', last_at) || substr(last_at, 20) AND substr(last_at, 20) GLOB '.[0-9][0-9][0-9][0-9][0-9][0-9]Z'),
    locked_till TEXT CHECK (locked_till IS strftime('%Y-%m-%dT%H:%M:%S', locked_till) || substr(locked_till, 20) AND substr(locked_till, 20) GLOB '.[0-9][0-9][0-9][0-9][0-9][0-9]Z')
) STRICT;

CREATE TABLE "station" (
    code TEXT PRIMARY KEY CHECK (length(code) BETWEEN 1 AND 40),
    name TEXT NOT NULL,
    timezone TEXT NOT NULL,
    chain_seq INTEGER NOT NULL CHECK (chain_seq >= 0),
    chain_hash TEXT NOT NULL, entry_seq INTEGER NOT NULL DEFAULT 0, entry_hash TEXT NOT NULL DEFAULT '', closed_at TEXT CHECK (closed_at IS strftime('%Y-%m-%dT%H:%M:%S', closed_at) || substr(closed_at, 20) AND substr(closed_at, 20) GLOB '.[0-9][0-9][0-9][0-9][0-9][0-9]Z'), lock_minutes INTEGER NOT NULL DEFAULT 0, night_vehicles TEXT CHECK (json_valid(night_vehicles)) NOT NULL DEFAULT '[]', position TEXT NOT NULL DEFAULT '', travel_minutes TEXT CHECK (json_valid(travel_minutes)) NOT NULL DEFAULT '[]',
    CHECK ((chain_seq = 0) = (chain_hash = ''))
) STRICT;

CREATE TABLE terminal (
    id INTEGER PRIMARY KEY,
    name TEXT NOT NULL CHECK (name <> ''),
    station TEXT REFERENCES "station" (code),
    hash TEXT UNIQUE,
    created_at TEXT CHECK (created_at IS strftime('%Y-%m-%dT%H:%M:%S', created_at) || substr(created_at, 20) AND substr(created_at, 20) GLOB '.[0-9][0-9][0-9][0-9][0-9][0-9]Z') NOT NULL,
    created_by TEXT NOT NULL,
    enrolled_at TEXT CHECK (enrolled_at IS strftime('%Y-%m-%dT%H:%M:%S', enrolled_at) || substr(enrolled_at, 20) AND substr(enrolled_at, 20) GLOB '.[0-9][0-9][0-9][0-9][0-9][0-9]Z'),
    revoked_at TEXT CHECK (revoked_at IS strftime('%Y-%m-%dT%H:%M:%S', revoked_at) || substr(revoked_at, 20) AND substr(revoked_at, 20) GLOB '.[0-9][0-9][0-9][0-9][0-9][0-9]Z'),
    last_used TEXT CHECK (last_used IS date(last_used)),
    CHECK ((hash IS NULL) = (enrolled_at IS NULL))
) STRICT;

CREATE TABLE token (
    id INTEGER PRIMARY KEY,
    name TEXT NOT NULL,
    role TEXT NOT NULL CHECK (role IN ('crew', 'quartermaster', 'manager', 'administrator')),
    hash TEXT NOT NULL UNIQUE,
    created_at TEXT CHECK (created_at IS strftime('%Y-%m-%dT%H:%M:%S', created_at) || substr(created_at, 20) AND substr(created_at, 20) GLOB '.[0-9][0-9][0-9][0-9][0-9][0-9]Z') NOT NULL,
    revoked_at TEXT CHECK (revoked_at IS strftime('%Y-%m-%dT%H:%M:%S', revoked_at) || substr(revoked_at, 20) AND substr(revoked_at, 20) GLOB '.[0-9][0-9][0-9][0-9][0-9][0-9]Z'),
    last_used TEXT CHECK (last_used IS date(last_used))
, scope TEXT NOT NULL DEFAULT '', ends_at TEXT CHECK (ends_at IS strftime('%Y-%m-%dT%H:%M:%S', ends_at) || substr(ends_at, 20) AND substr(ends_at, 20) GLOB '.[0-9][0-9][0-9][0-9][0-9][0-9]Z'), created_by TEXT NOT NULL DEFAULT '') STRICT;

CREATE TABLE "token_station" (
    token INTEGER NOT NULL REFERENCES token (id),
    station TEXT NOT NULL REFERENCES "station" (code),
    PRIMARY KEY (token, station)
) STRICT, WITHOUT ROWID;

CREATE TABLE training_use (
    id INTEGER PRIMARY KEY,
    batch_id INTEGER NOT NULL,
    lot_id INTEGER NOT NULL,
    happened_at TEXT CHECK (happened_at IS strftime('%Y-%m-%dT%H:%M:%S', happened_at) || substr(happened_at, 20) AND substr(happened_at, 20) GLOB '.[0-9][0-9][0-9][0-9][0-9][0-9]Z') NOT NULL,
    recorded_at TEXT CHECK (recorded_at IS strftime('%Y-%m-%dT%H:%M:%S', recorded_at) || substr(recorded_at, 20) AND substr(recorded_at, 20) GLOB '.[0-9][0-9][0-9][0-9][0-9][0-9]Z') NOT NULL,
    by_name TEXT NOT NULL,
    cycles INTEGER NOT NULL CHECK (cycles > 0),
    class TEXT NOT NULL,
    FOREIGN KEY (lot_id, batch_id) REFERENCES lot (id, batch_id)
) STRICT;

CREATE INDEX training_use_batch ON training_use (batch_id);

CREATE TABLE upload (
    code TEXT NOT NULL PRIMARY KEY,
    owner TEXT NOT NULL,
    kept_at INTEGER NOT NULL,
    heard_at INTEGER NOT NULL,
    state TEXT NOT NULL
) STRICT;

CREATE TABLE upload_part (
    upload TEXT NOT NULL REFERENCES upload (code) ON DELETE CASCADE,
    seq INTEGER NOT NULL CHECK (seq > 0),
    body BLOB NOT NULL,
    PRIMARY KEY (upload, seq)
) STRICT;

CREATE TABLE "vehicle_out_of_service" (
    id INTEGER PRIMARY KEY,
    station TEXT NOT NULL REFERENCES "station" (code),
    vehicle TEXT NOT NULL CHECK (vehicle <> ''),
    reason TEXT NOT NULL CHECK (reason <> ''),
    recorded_at TEXT CHECK (recorded_at IS strftime('%Y-%m-%dT%H:%M:%S', recorded_at) || substr(recorded_at, 20) AND substr(recorded_at, 20) GLOB '.[0-9][0-9][0-9][0-9][0-9][0-9]Z') NOT NULL,
    by_name TEXT NOT NULL,
    back_at TEXT CHECK (back_at IS strftime('%Y-%m-%dT%H:%M:%S', back_at) || substr(back_at, 20) AND substr(back_at, 20) GLOB '.[0-9][0-9][0-9][0-9][0-9][0-9]Z'),
    back_by TEXT NOT NULL,
    CHECK ((back_at IS NULL) = (back_by = ''))
) STRICT;

CREATE UNIQUE INDEX vehicle_out_of_service_now ON vehicle_out_of_service (station, vehicle) WHERE back_at IS NULL;
