-- +goose Up

-- One name for one thing: a station, a batch number, an entry of the history,
-- what is controlled, when something happened and when it was recorded.
ALTER TABLE movement RENAME COLUMN site TO station;
ALTER TABLE past_usage RENAME COLUMN site TO station;
ALTER TABLE sheet_offset RENAME COLUMN site TO station;
ALTER TABLE terminal RENAME COLUMN site TO station;
ALTER TABLE vehicle_off RENAME COLUMN site TO station;
ALTER TABLE person_site RENAME COLUMN site TO station;
ALTER TABLE token_site RENAME COLUMN site TO station;
ALTER TABLE place RENAME COLUMN site TO station;
ALTER TABLE deed RENAME COLUMN site TO station;
ALTER TABLE place RENAME COLUMN at_site TO at_station;
ALTER TABLE batch RENAME COLUMN lot_no TO batch_no;
ALTER TABLE notice RENAME COLUMN lot_nos TO batch_nos;
ALTER TABLE item RENAME COLUMN witnessed TO controlled;
ALTER TABLE bag_check RENAME COLUMN performed_at TO happened_at;
ALTER TABLE bag_use RENAME COLUMN used_at TO happened_at;
ALTER TABLE bag_check RENAME COLUMN waits_because TO review_because;
ALTER TABLE bag_use RENAME COLUMN waits_because TO review_because;
ALTER TABLE bag_check RENAME COLUMN put_back TO return_to_service;
ALTER TABLE bag RENAME COLUMN taken_off_reason TO out_of_service_reason;
ALTER TABLE bag RENAME COLUMN taken_off_by TO out_of_service_by;
ALTER TABLE bag RENAME COLUMN taken_off_at TO out_of_service_at;
ALTER TABLE restock RENAME COLUMN at TO recorded_at;
ALTER TABLE bag_log RENAME COLUMN at TO recorded_at;
ALTER TABLE batch_correction RENAME COLUMN at TO recorded_at;
ALTER TABLE deed RENAME COLUMN at TO recorded_at;
ALTER TABLE register_signature RENAME COLUMN at TO recorded_at;
ALTER TABLE vehicle_off RENAME COLUMN at TO recorded_at;
ALTER TABLE inspection RENAME COLUMN at TO happened_at;
ALTER TABLE training_use RENAME COLUMN at TO happened_at;
ALTER TABLE seal RENAME COLUMN at TO happened_at;
ALTER TABLE person RENAME COLUMN tries TO attempts;
ALTER TABLE sign_in_try RENAME COLUMN tries TO attempts;

ALTER TABLE site RENAME TO station;
ALTER TABLE person_site RENAME TO person_station;
ALTER TABLE token_site RENAME TO token_station;
ALTER TABLE deed RENAME TO history_entry;
ALTER TABLE sign_in_try RENAME TO sign_in_attempt;
ALTER TABLE vehicle_off RENAME TO vehicle_out_of_service;

DROP INDEX place_site;
CREATE INDEX place_station ON place (station, kind);
DROP INDEX place_at_site;
CREATE INDEX place_at_station ON place (at_station, kind);
DROP INDEX batch_lot_no;
CREATE INDEX batch_batch_no ON batch (batch_no) WHERE batch_no <> '';
DROP INDEX deed_at;
CREATE INDEX history_entry_recorded_at ON history_entry (recorded_at);
DROP INDEX deed_by;
CREATE INDEX history_entry_by ON history_entry (by_name);
DROP INDEX deed_place;
CREATE INDEX history_entry_place ON history_entry (place) WHERE place <> '';
DROP INDEX deed_other_place;
CREATE INDEX history_entry_other_place ON history_entry (other_place) WHERE other_place <> '';
DROP INDEX deed_lot;
CREATE INDEX history_entry_lot ON history_entry (lot_id) WHERE lot_id IS NOT NULL;
DROP INDEX deed_batch;
CREATE INDEX history_entry_batch ON history_entry (batch_id) WHERE batch_id IS NOT NULL;
DROP INDEX vehicle_off_now;
CREATE UNIQUE INDEX vehicle_out_of_service_now ON vehicle_out_of_service (station, vehicle) WHERE back_at IS NULL;

-- What is kept as JSON bears the names too.
UPDATE bag_check SET found = {{rekey "found" "lot_no" "batch_no"}} WHERE found <> '[]';
UPDATE delivery SET lines = {{rekey "lines" "lot_no" "batch_no"}};
UPDATE batch_correction SET old_value = {{rekey "old_value" "lot_no" "batch_no"}}, new_value = {{rekey "new_value" "lot_no" "batch_no"}};
UPDATE bag_check SET decision = {{rekey "decision" "lot_no" "batch_no"}} WHERE decision IS NOT NULL;
UPDATE bag_check SET decision = {{rekey "decision" "at" "recorded_at"}} WHERE decision IS NOT NULL;
UPDATE bag_use SET decision = {{rekey "decision" "at" "recorded_at"}} WHERE decision IS NOT NULL;
UPDATE token SET scope = replace(replace(scope, 'keep_sites', 'keep_stations'), 'take_off', 'out_of_service');
UPDATE history_entry SET kind = 'station' WHERE kind = 'site';

-- A crew's report is to review, accepted or rejected, and a bag or vehicle is
-- out of service. SQLite changes a check by making the table again.
{{if sqlite -}}
CREATE TABLE bag_check_new (
    {{id}},
    bag {{text}} NOT NULL REFERENCES bag (code),
    kind {{text}} NOT NULL CHECK (kind IN ('seal', 'full')),
    {{instant "happened_at"}} NOT NULL,
    {{instant "recorded_at"}} NOT NULL,
    by_name {{text}} NOT NULL,
    seen_position {{int}} NOT NULL,
    seal_seen {{text}} NOT NULL,
    {{bool "seal_broken"}},
    seal_set {{text}} NOT NULL,
    {{json "lines"}} NOT NULL,
    {{json "found"}} NOT NULL,
    {{json "inspections"}} NOT NULL,
    note {{text}} NOT NULL,
    status {{text}} NOT NULL CHECK (status IN ('accepted', 'to_review', 'rejected')),
    review_because {{text}} NOT NULL,
    {{jsonOrNull "decision"}},
    request_key {{text}},
    {{bool "return_to_service"}},
    UNIQUE (request_key)
){{strict}};
INSERT INTO bag_check_new (id, bag, kind, happened_at, recorded_at, by_name, seen_position, seal_seen, seal_broken, seal_set, lines, found, inspections, note, status, review_because, decision, request_key, return_to_service)
SELECT id, bag, kind, happened_at, recorded_at, by_name, seen_position, seal_seen, seal_broken, seal_set, lines, found, inspections, note,
    CASE status WHEN 'posted' THEN 'accepted' WHEN 'waiting' THEN 'to_review' ELSE 'rejected' END, review_because, decision, request_key, return_to_service FROM bag_check;
DROP TABLE bag_check;
ALTER TABLE bag_check_new RENAME TO bag_check;
CREATE INDEX bag_check_bag ON bag_check (bag);

CREATE TABLE bag_use_new (
    {{id}},
    bag {{text}} NOT NULL REFERENCES bag (code),
    incident {{text}} NOT NULL,
    {{instant "happened_at"}} NOT NULL,
    {{instant "recorded_at"}} NOT NULL,
    by_name {{text}} NOT NULL,
    seen_position {{int}} NOT NULL,
    seal_seen {{text}} NOT NULL,
    seal_set {{text}} NOT NULL,
    {{json "lines"}} NOT NULL,
    note {{text}} NOT NULL,
    status {{text}} NOT NULL CHECK (status IN ('accepted', 'to_review', 'rejected')),
    review_because {{text}} NOT NULL,
    {{jsonOrNull "decision"}},
    request_key {{text}},
    UNIQUE (request_key)
){{strict}};
INSERT INTO bag_use_new (id, bag, incident, happened_at, recorded_at, by_name, seen_position, seal_seen, seal_set, lines, note, status, review_because, decision, request_key)
SELECT id, bag, incident, happened_at, recorded_at, by_name, seen_position, seal_seen, seal_set, lines, note,
    CASE status WHEN 'posted' THEN 'accepted' WHEN 'waiting' THEN 'to_review' ELSE 'rejected' END, review_because, decision, request_key FROM bag_use;
DROP TABLE bag_use;
ALTER TABLE bag_use_new RENAME TO bag_use;
CREATE INDEX bag_use_bag ON bag_use (bag);

CREATE TABLE bag_log_new (
    {{id}},
    bag {{text}} NOT NULL REFERENCES bag (code),
    {{instant "recorded_at"}} NOT NULL,
    by_name {{text}} NOT NULL,
    kind {{text}} NOT NULL CHECK (kind IN ('vehicle', 'station', 'inside', 'module', 'kit_list', 'out_of_service', 'return_to_service')),
    old_value {{text}} NOT NULL,
    new_value {{text}} NOT NULL,
    reason {{text}} NOT NULL
){{strict}};
INSERT INTO bag_log_new (id, bag, recorded_at, by_name, kind, old_value, new_value, reason)
SELECT id, bag, recorded_at, by_name, CASE kind WHEN 'site' THEN 'station' WHEN 'taken_off' THEN 'out_of_service' WHEN 'put_back' THEN 'return_to_service' ELSE kind END,
    old_value, new_value, reason FROM bag_log;
DROP TABLE bag_log;
ALTER TABLE bag_log_new RENAME TO bag_log;
CREATE INDEX bag_log_bag ON bag_log (bag);
{{else -}}
DROP INDEX bag_check_waiting;
DROP INDEX bag_use_waiting;
ALTER TABLE bag_check DROP CONSTRAINT bag_check_status_check;
ALTER TABLE bag_use DROP CONSTRAINT bag_use_status_check;
ALTER TABLE bag_log DROP CONSTRAINT bag_log_kind_check;
UPDATE bag_check SET status = CASE status WHEN 'posted' THEN 'accepted' WHEN 'waiting' THEN 'to_review' ELSE 'rejected' END;
UPDATE bag_use SET status = CASE status WHEN 'posted' THEN 'accepted' WHEN 'waiting' THEN 'to_review' ELSE 'rejected' END;
UPDATE bag_log SET kind = CASE kind WHEN 'site' THEN 'station' WHEN 'taken_off' THEN 'out_of_service' WHEN 'put_back' THEN 'return_to_service' ELSE kind END;
ALTER TABLE bag_check ADD CHECK (status IN ('accepted', 'to_review', 'rejected'));
ALTER TABLE bag_use ADD CHECK (status IN ('accepted', 'to_review', 'rejected'));
ALTER TABLE bag_log ADD CHECK (kind IN ('vehicle', 'station', 'inside', 'module', 'kit_list', 'out_of_service', 'return_to_service'));
{{end -}}
CREATE INDEX bag_check_to_review ON bag_check (status) WHERE status = 'to_review';
CREATE INDEX bag_use_to_review ON bag_use (status) WHERE status = 'to_review';
UPDATE bag_check SET decision = {{revalue "decision" "decision" "post" "accept"}} WHERE decision IS NOT NULL;
UPDATE bag_check SET decision = {{revalue "decision" "decision" "adjust" "edit"}} WHERE decision IS NOT NULL;
UPDATE bag_check SET decision = {{revalue "decision" "decision" "dismiss" "reject"}} WHERE decision IS NOT NULL;
UPDATE bag_use SET decision = {{revalue "decision" "decision" "post" "accept"}} WHERE decision IS NOT NULL;
UPDATE bag_use SET decision = {{revalue "decision" "decision" "adjust" "edit"}} WHERE decision IS NOT NULL;
UPDATE bag_use SET decision = {{revalue "decision" "decision" "dismiss" "reject"}} WHERE decision IS NOT NULL;
