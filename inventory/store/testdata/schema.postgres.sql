CREATE TABLE actor (
    id bigint GENERATED ALWAYS AS IDENTITY NOT NULL,
    name text COLLATE "C" NOT NULL,
    CONSTRAINT actor_pkey PRIMARY KEY (id),
    CONSTRAINT actor_name_key UNIQUE (name)
);

CREATE TABLE answer (
    request_key text COLLATE "C" NOT NULL,
    principal text COLLATE "C" NOT NULL,
    method text COLLATE "C" NOT NULL,
    path text COLLATE "C" NOT NULL,
    body_hash text COLLATE "C" NOT NULL,
    status bigint NOT NULL,
    content_type text COLLATE "C" NOT NULL,
    body bytea NOT NULL,
    created_at timestamp with time zone NOT NULL,
    CONSTRAINT answer_pkey PRIMARY KEY (request_key, principal, method, path)
);

CREATE TABLE bag (
    code text COLLATE "C" NOT NULL,
    kit_list text COLLATE "C" NOT NULL,
    kit_list_version bigint NOT NULL,
    priority bigint NOT NULL,
    vehicle text COLLATE "C" NOT NULL,
    inside text COLLATE "C",
    out_of_service_reason text COLLATE "C" NOT NULL,
    out_of_service_by text COLLATE "C" NOT NULL,
    out_of_service_at timestamp with time zone,
    version bigint NOT NULL,
    position bigint NOT NULL,
    seal text COLLATE "C" NOT NULL,
    seal_state text COLLATE "C" NOT NULL,
    seal_seen_at timestamp with time zone,
    last_seal_check timestamp with time zone,
    last_full_check timestamp with time zone,
    last_use timestamp with time zone,
    last_restock timestamp with time zone,
    retired_at timestamp with time zone,
    retired_by text COLLATE "C" NOT NULL,
    successor text COLLATE "C",
    CONSTRAINT bag_check CHECK ((inside <> code)),
    CONSTRAINT bag_check1 CHECK (((out_of_service_at IS NULL) = (out_of_service_reason = ''::text))),
    CONSTRAINT bag_check2 CHECK (((retired_at IS NULL) = (retired_by = ''::text))),
    CONSTRAINT bag_check3 CHECK (((successor IS NULL) OR ((successor <> code) AND (retired_at IS NOT NULL)))),
    CONSTRAINT bag_position_check CHECK (("position" >= 0)),
    CONSTRAINT bag_priority_check CHECK (((priority >= 1) AND (priority <= 9))),
    CONSTRAINT bag_seal_state_check CHECK ((seal_state = ANY (ARRAY[''::text, 'intact'::text, 'broken'::text, 'different'::text]))),
    CONSTRAINT bag_version_check CHECK ((version > 0)),
    CONSTRAINT bag_code_fkey FOREIGN KEY (code) REFERENCES place(code),
    CONSTRAINT bag_inside_fkey FOREIGN KEY (inside) REFERENCES bag(code),
    CONSTRAINT bag_kit_list_kit_list_version_fkey FOREIGN KEY (kit_list, kit_list_version) REFERENCES kit_list(code, version),
    CONSTRAINT bag_successor_fkey FOREIGN KEY (successor) REFERENCES bag(code),
    CONSTRAINT bag_pkey PRIMARY KEY (code)
);

CREATE INDEX bag_inside ON public.bag USING btree (inside) WHERE (inside IS NOT NULL);

CREATE INDEX bag_kit_list ON public.bag USING btree (kit_list, kit_list_version);

CREATE INDEX bag_successor ON public.bag USING btree (successor) WHERE (successor IS NOT NULL);

CREATE TABLE bag_check (
    id bigint GENERATED ALWAYS AS IDENTITY NOT NULL,
    bag text COLLATE "C" NOT NULL,
    kind text COLLATE "C" NOT NULL,
    happened_at timestamp with time zone NOT NULL,
    recorded_at timestamp with time zone NOT NULL,
    by_name text COLLATE "C" NOT NULL,
    seen_position bigint NOT NULL,
    seal_seen text COLLATE "C" NOT NULL,
    seal_broken boolean NOT NULL,
    seal_set text COLLATE "C" NOT NULL,
    lines jsonb NOT NULL,
    found jsonb NOT NULL,
    inspections jsonb NOT NULL,
    note text COLLATE "C" NOT NULL,
    status text COLLATE "C" NOT NULL,
    review_because text COLLATE "C" NOT NULL,
    decision jsonb,
    request_key text COLLATE "C",
    return_to_service boolean NOT NULL,
    not_counted bigint NOT NULL,
    sent_by text COLLATE "C" NOT NULL,
    CONSTRAINT bag_check_kind_check CHECK ((kind = ANY (ARRAY['seal'::text, 'full'::text]))),
    CONSTRAINT bag_check_status_check CHECK ((status = ANY (ARRAY['accepted'::text, 'to_review'::text, 'rejected'::text, 'withdrawn'::text]))),
    CONSTRAINT bag_check_bag_fkey FOREIGN KEY (bag) REFERENCES bag(code),
    CONSTRAINT bag_check_pkey PRIMARY KEY (id),
    CONSTRAINT bag_check_request_key_key UNIQUE (request_key)
);

CREATE INDEX bag_check_bag ON public.bag_check USING btree (bag);

CREATE INDEX bag_check_to_review ON public.bag_check USING btree (status) WHERE (status = 'to_review'::text);

CREATE TABLE bag_event (
    bag text COLLATE "C" NOT NULL,
    position bigint NOT NULL,
    kind text COLLATE "C" NOT NULL,
    movement_id bigint,
    seal_id bigint,
    CONSTRAINT bag_event_check CHECK (((kind = 'movement'::text) = (movement_id IS NOT NULL))),
    CONSTRAINT bag_event_check1 CHECK (((kind = 'seal'::text) = (seal_id IS NOT NULL))),
    CONSTRAINT bag_event_kind_check CHECK ((kind = ANY (ARRAY['movement'::text, 'seal'::text, 'list'::text]))),
    CONSTRAINT bag_event_position_check CHECK (("position" > 0)),
    CONSTRAINT bag_event_bag_fkey FOREIGN KEY (bag) REFERENCES bag(code),
    CONSTRAINT bag_event_movement_id_fkey FOREIGN KEY (movement_id) REFERENCES movement(id),
    CONSTRAINT bag_event_seal_id_fkey FOREIGN KEY (seal_id) REFERENCES seal(id),
    CONSTRAINT bag_event_pkey PRIMARY KEY (bag, "position")
);

CREATE TABLE bag_log (
    id bigint GENERATED ALWAYS AS IDENTITY NOT NULL,
    bag text COLLATE "C" NOT NULL,
    recorded_at timestamp with time zone NOT NULL,
    by_name text COLLATE "C" NOT NULL,
    kind text COLLATE "C" NOT NULL,
    old_value text COLLATE "C" NOT NULL,
    new_value text COLLATE "C" NOT NULL,
    reason text COLLATE "C" NOT NULL,
    CONSTRAINT bag_log_kind_check CHECK ((kind = ANY (ARRAY['vehicle'::text, 'station'::text, 'inside'::text, 'module'::text, 'kit_list'::text, 'out_of_service'::text, 'return_to_service'::text]))),
    CONSTRAINT bag_log_bag_fkey FOREIGN KEY (bag) REFERENCES bag(code),
    CONSTRAINT bag_log_pkey PRIMARY KEY (id)
);

CREATE INDEX bag_log_bag ON public.bag_log USING btree (bag);

CREATE TABLE bag_use (
    id bigint GENERATED ALWAYS AS IDENTITY NOT NULL,
    bag text COLLATE "C" NOT NULL,
    incident text COLLATE "C" NOT NULL,
    happened_at timestamp with time zone NOT NULL,
    recorded_at timestamp with time zone NOT NULL,
    by_name text COLLATE "C" NOT NULL,
    seen_position bigint NOT NULL,
    seal_seen text COLLATE "C" NOT NULL,
    seal_set text COLLATE "C" NOT NULL,
    lines jsonb NOT NULL,
    note text COLLATE "C" NOT NULL,
    status text COLLATE "C" NOT NULL,
    review_because text COLLATE "C" NOT NULL,
    decision jsonb,
    request_key text COLLATE "C",
    sent_by text COLLATE "C" NOT NULL,
    CONSTRAINT bag_use_status_check CHECK ((status = ANY (ARRAY['accepted'::text, 'to_review'::text, 'rejected'::text, 'withdrawn'::text]))),
    CONSTRAINT bag_use_bag_fkey FOREIGN KEY (bag) REFERENCES bag(code),
    CONSTRAINT bag_use_pkey PRIMARY KEY (id),
    CONSTRAINT bag_use_request_key_key UNIQUE (request_key)
);

CREATE INDEX bag_use_bag ON public.bag_use USING btree (bag);

CREATE INDEX bag_use_to_review ON public.bag_use USING btree (status) WHERE (status = 'to_review'::text);

CREATE TABLE balance (
    place text COLLATE "C" NOT NULL,
    lot_id bigint NOT NULL,
    batch_id bigint NOT NULL,
    device boolean NOT NULL,
    qty bigint NOT NULL,
    CONSTRAINT balance_check CHECK (((NOT device) OR (qty = 1))),
    CONSTRAINT balance_qty_check CHECK ((qty > 0)),
    CONSTRAINT balance_lot_id_batch_id_device_fkey FOREIGN KEY (lot_id, batch_id, device) REFERENCES lot(id, batch_id, device),
    CONSTRAINT balance_place_fkey FOREIGN KEY (place) REFERENCES place(code),
    CONSTRAINT balance_pkey PRIMARY KEY (place, lot_id)
);

CREATE INDEX balance_batch ON public.balance USING btree (batch_id);

CREATE INDEX balance_lot ON public.balance USING btree (lot_id);

CREATE UNIQUE INDEX balance_device ON public.balance USING btree (batch_id) WHERE device;

CREATE TABLE balance_check (
    id bigint GENERATED ALWAYS AS IDENTITY NOT NULL,
    item text COLLATE "C" NOT NULL,
    place text COLLATE "C" NOT NULL,
    counted bigint NOT NULL,
    expected bigint NOT NULL,
    after_movement bigint,
    happened_at timestamp with time zone NOT NULL,
    recorded_at timestamp with time zone NOT NULL,
    by_name text COLLATE "C" NOT NULL,
    witness text COLLATE "C" NOT NULL,
    note text COLLATE "C" NOT NULL,
    CONSTRAINT balance_check_by_name_check CHECK ((by_name <> ''::text)),
    CONSTRAINT balance_check_check CHECK (((witness <> ''::text) AND (witness <> by_name))),
    CONSTRAINT balance_check_counted_check CHECK ((counted >= 0)),
    CONSTRAINT balance_check_expected_check CHECK ((expected >= 0)),
    CONSTRAINT balance_check_after_movement_fkey FOREIGN KEY (after_movement) REFERENCES movement(id),
    CONSTRAINT balance_check_item_fkey FOREIGN KEY (item) REFERENCES item(code),
    CONSTRAINT balance_check_place_fkey FOREIGN KEY (place) REFERENCES place(code),
    CONSTRAINT balance_check_pkey PRIMARY KEY (id)
);

CREATE INDEX balance_check_page ON public.balance_check USING btree (item, place);

CREATE TABLE batch (
    id bigint GENERATED ALWAYS AS IDENTITY NOT NULL,
    item text COLLATE "C" NOT NULL,
    product bigint,
    batch_no text COLLATE "C" NOT NULL,
    serial text COLLATE "C" NOT NULL,
    device boolean NOT NULL,
    made_on date,
    end_printed text COLLATE "C" NOT NULL,
    ........pg.dropped.9........ - COLLATE "C",
    last_usable date,
    inspected_on date,
    cycles bigint NOT NULL,
    inspect_by date,
    withdrawn text COLLATE "C" NOT NULL,
    formerly jsonb NOT NULL,
    numbers text COLLATE "C" NOT NULL,
    merged_into bigint,
    end_wording text COLLATE "C" NOT NULL,
    CONSTRAINT batch_check CHECK ((device = (serial <> ''::text))),
    CONSTRAINT batch_cycles_check CHECK ((cycles >= 0)),
    CONSTRAINT batch_wording_check CHECK ((end_wording = ANY (ARRAY[''::text, 'expiry'::text, 'hourglass'::text, 'use_by'::text, 'use_before'::text, 'unstated'::text]))),
    CONSTRAINT batch_item_fkey FOREIGN KEY (item) REFERENCES item(code),
    CONSTRAINT batch_merged_into_fkey FOREIGN KEY (merged_into) REFERENCES batch(id),
    CONSTRAINT batch_product_fkey FOREIGN KEY (product) REFERENCES product(id),
    CONSTRAINT batch_pkey PRIMARY KEY (id),
    CONSTRAINT batch_id_device_key UNIQUE (id, device)
);

CREATE INDEX batch_item ON public.batch USING btree (item, batch_no);

CREATE INDEX batch_merged ON public.batch USING btree (merged_into) WHERE (merged_into IS NOT NULL);

CREATE INDEX batch_numberless ON public.batch USING btree (item) WHERE ((batch_no = ''::text) AND (serial = ''::text));

CREATE UNIQUE INDEX batch_number ON public.batch USING btree (item, COALESCE(product, (0)::bigint), batch_no) WHERE ((NOT device) AND (batch_no <> ''::text) AND (merged_into IS NULL));

CREATE UNIQUE INDEX batch_serial ON public.batch USING btree (item, serial) WHERE device;

CREATE TABLE batch_correction (
    id bigint GENERATED ALWAYS AS IDENTITY NOT NULL,
    batch_id bigint NOT NULL,
    recorded_at timestamp with time zone NOT NULL,
    by_name text COLLATE "C" NOT NULL,
    reason text COLLATE "C" NOT NULL,
    old_value jsonb,
    new_value jsonb,
    merged bigint,
    CONSTRAINT batch_correction_reason_check CHECK ((reason <> ''::text)),
    CONSTRAINT batch_correction_batch_id_fkey FOREIGN KEY (batch_id) REFERENCES batch(id),
    CONSTRAINT batch_correction_merged_fkey FOREIGN KEY (merged) REFERENCES batch(id),
    CONSTRAINT batch_correction_pkey PRIMARY KEY (id)
);

CREATE INDEX batch_correction_batch ON public.batch_correction USING btree (batch_id);

CREATE TABLE category (
    name text COLLATE "C" NOT NULL,
    CONSTRAINT category_name_check CHECK (((length(name) >= 1) AND (length(name) <= 120))),
    CONSTRAINT category_pkey PRIMARY KEY (name)
);

CREATE TABLE conversion (
    id bigint GENERATED ALWAYS AS IDENTITY NOT NULL,
    item text COLLATE "C" NOT NULL,
    old_unit text COLLATE "C" NOT NULL,
    new_unit text COLLATE "C" NOT NULL,
    old_qty bigint NOT NULL,
    new_qty bigint NOT NULL,
    until bigint NOT NULL,
    recorded_at timestamp with time zone NOT NULL,
    by_name text COLLATE "C" NOT NULL,
    witness text COLLATE "C" NOT NULL,
    reason text COLLATE "C" NOT NULL,
    CONSTRAINT conversion_new_qty_check CHECK ((new_qty > 0)),
    CONSTRAINT conversion_old_qty_check CHECK ((old_qty > 0)),
    CONSTRAINT conversion_until_check CHECK ((until >= 0)),
    CONSTRAINT conversion_item_fkey FOREIGN KEY (item) REFERENCES item(code),
    CONSTRAINT conversion_pkey PRIMARY KEY (id)
);

CREATE TABLE delivery (
    id bigint GENERATED ALWAYS AS IDENTITY NOT NULL,
    place text COLLATE "C" NOT NULL,
    reference text COLLATE "C" NOT NULL,
    status text COLLATE "C" NOT NULL,
    started_at timestamp with time zone NOT NULL,
    started_by text COLLATE "C" NOT NULL,
    ended_at timestamp with time zone,
    ended_by text COLLATE "C" NOT NULL,
    last_line bigint NOT NULL,
    lines jsonb NOT NULL,
    CONSTRAINT delivery_check CHECK (((ended_at IS NULL) = (status = 'open'::text))),
    CONSTRAINT delivery_status_check CHECK ((status = ANY (ARRAY['open'::text, 'put_away'::text, 'dropped'::text]))),
    CONSTRAINT delivery_place_fkey FOREIGN KEY (place) REFERENCES place(code),
    CONSTRAINT delivery_pkey PRIMARY KEY (id)
);

CREATE INDEX delivery_open ON public.delivery USING btree (place) WHERE (status = 'open'::text);

CREATE TABLE discrepancy (
    id bigint GENERATED ALWAYS AS IDENTITY NOT NULL,
    item text COLLATE "C" NOT NULL,
    place text COLLATE "C" NOT NULL,
    check_id bigint,
    movement_id bigint,
    body text COLLATE "C" NOT NULL,
    opened_at timestamp with time zone NOT NULL,
    opened_by text COLLATE "C" NOT NULL,
    closed_at timestamp with time zone,
    closed_by text COLLATE "C" NOT NULL,
    witness text COLLATE "C" NOT NULL,
    outcome text COLLATE "C" NOT NULL,
    CONSTRAINT discrepancy_check CHECK (((check_id IS NULL) <> (movement_id IS NULL))),
    CONSTRAINT discrepancy_check1 CHECK (((closed_at IS NULL) = (outcome = ''::text))),
    CONSTRAINT discrepancy_check2 CHECK ((((closed_at IS NULL) = (witness = ''::text)) AND ((witness = ''::text) OR (witness <> closed_by)))),
    CONSTRAINT discrepancy_check_id_fkey FOREIGN KEY (check_id) REFERENCES balance_check(id),
    CONSTRAINT discrepancy_item_fkey FOREIGN KEY (item) REFERENCES item(code),
    CONSTRAINT discrepancy_movement_id_fkey FOREIGN KEY (movement_id) REFERENCES movement(id),
    CONSTRAINT discrepancy_place_fkey FOREIGN KEY (place) REFERENCES place(code),
    CONSTRAINT discrepancy_pkey PRIMARY KEY (id)
);

CREATE INDEX discrepancy_open ON public.discrepancy USING btree (item, place) WHERE (closed_at IS NULL);

CREATE TABLE document (
    id bigint GENERATED ALWAYS AS IDENTITY NOT NULL,
    kind text COLLATE "C" NOT NULL,
    of_document bigint,
    station text COLLATE "C" NOT NULL,
    other_station text COLLATE "C",
    place text COLLATE "C",
    status text COLLATE "C" NOT NULL,
    opened_at timestamp with time zone NOT NULL,
    opened_by text COLLATE "C" NOT NULL,
    ended_at timestamp with time zone,
    ended_by text COLLATE "C" NOT NULL,
    body jsonb NOT NULL,
    CONSTRAINT document_check CHECK (((kind = 'transfer_receipt'::text) = (of_document IS NOT NULL))),
    CONSTRAINT document_check1 CHECK (((ended_at IS NULL) = (ended_by = ''::text))),
    CONSTRAINT document_kind_check CHECK ((kind = ANY (ARRAY['transfer'::text, 'transfer_receipt'::text, 'count'::text, 'order'::text]))),
    CONSTRAINT document_status_check CHECK ((status <> ''::text)),
    CONSTRAINT document_of_document_fkey FOREIGN KEY (of_document) REFERENCES document(id),
    CONSTRAINT document_other_station_fkey FOREIGN KEY (other_station) REFERENCES station(code),
    CONSTRAINT document_place_fkey FOREIGN KEY (place) REFERENCES place(code),
    CONSTRAINT document_station_fkey FOREIGN KEY (station) REFERENCES station(code),
    CONSTRAINT document_pkey PRIMARY KEY (id)
);

CREATE INDEX document_open ON public.document USING btree (kind) WHERE (ended_at IS NULL);

CREATE INDEX document_place ON public.document USING btree (kind, place);

CREATE TABLE history_entry (
    id bigint GENERATED ALWAYS AS IDENTITY NOT NULL,
    recorded_at timestamp with time zone NOT NULL,
    by_name text COLLATE "C" NOT NULL,
    from_terminal text COLLATE "C" NOT NULL,
    kind text COLLATE "C" NOT NULL,
    station text COLLATE "C" NOT NULL,
    place text COLLATE "C" NOT NULL,
    other_place text COLLATE "C" NOT NULL,
    lot_id bigint,
    batch_id bigint,
    person text COLLATE "C" NOT NULL,
    detail text COLLATE "C" NOT NULL,
    chain text COLLATE "C" NOT NULL,
    seq bigint,
    facts text COLLATE "C" NOT NULL,
    hash text COLLATE "C" NOT NULL,
    CONSTRAINT deed_kind_check CHECK ((kind <> ''::text)),
    CONSTRAINT deed_pkey PRIMARY KEY (id)
);

CREATE INDEX history_entry_batch ON public.history_entry USING btree (batch_id) WHERE (batch_id IS NOT NULL);

CREATE INDEX history_entry_by ON public.history_entry USING btree (by_name);

CREATE INDEX history_entry_lot ON public.history_entry USING btree (lot_id) WHERE (lot_id IS NOT NULL);

CREATE INDEX history_entry_other_place ON public.history_entry USING btree (other_place) WHERE (other_place <> ''::text);

CREATE INDEX history_entry_place ON public.history_entry USING btree (place) WHERE (place <> ''::text);

CREATE INDEX history_entry_recorded_at ON public.history_entry USING btree (recorded_at);

CREATE UNIQUE INDEX history_entry_chain ON public.history_entry USING btree (chain, seq) WHERE (seq IS NOT NULL);

CREATE TABLE inspection (
    id bigint GENERATED ALWAYS AS IDENTITY NOT NULL,
    batch_id bigint NOT NULL,
    lot_id bigint NOT NULL,
    item text COLLATE "C" NOT NULL,
    place text COLLATE "C" NOT NULL,
    happened_at timestamp with time zone NOT NULL,
    recorded_at timestamp with time zone NOT NULL,
    by_name text COLLATE "C" NOT NULL,
    role text COLLATE "C" NOT NULL,
    points jsonb NOT NULL,
    passed boolean NOT NULL,
    source text COLLATE "C" NOT NULL,
    note text COLLATE "C" NOT NULL,
    CONSTRAINT inspection_role_check CHECK ((role = ANY (ARRAY['crew'::text, 'quartermaster'::text, 'manager'::text, 'administrator'::text]))),
    CONSTRAINT inspection_item_fkey FOREIGN KEY (item) REFERENCES item(code),
    CONSTRAINT inspection_lot_id_batch_id_fkey FOREIGN KEY (lot_id, batch_id) REFERENCES lot(id, batch_id),
    CONSTRAINT inspection_place_fkey FOREIGN KEY (place) REFERENCES place(code),
    CONSTRAINT inspection_pkey PRIMARY KEY (id)
);

CREATE INDEX inspection_batch ON public.inspection USING btree (batch_id);

CREATE TABLE item (
    code text COLLATE "C" NOT NULL,
    name text COLLATE "C" NOT NULL,
    search text COLLATE "C" NOT NULL,
    category text COLLATE "C" NOT NULL,
    unit text COLLATE "C" NOT NULL,
    tracked_by text COLLATE "C" NOT NULL,
    dated boolean NOT NULL,
    single_use boolean NOT NULL,
    controlled boolean NOT NULL,
    made_months bigint NOT NULL,
    stowed_months bigint NOT NULL,
    exposed_days bigint NOT NULL,
    opened_days bigint NOT NULL,
    inspect_days bigint NOT NULL,
    training_cycles bigint NOT NULL,
    inspection_points jsonb NOT NULL,
    lead_time_days bigint NOT NULL,
    version bigint NOT NULL,
    preferred_product bigint,
    inspection_notes jsonb NOT NULL,
    strength text COLLATE "C" NOT NULL,
    form text COLLATE "C" NOT NULL,
    content_quantity text COLLATE "C" NOT NULL,
    content_unit text COLLATE "C" NOT NULL,
    reserve bigint NOT NULL,
    CONSTRAINT item_code_check CHECK (((length(code) >= 1) AND (length(code) <= 40))),
    CONSTRAINT item_exposed_days_check CHECK ((exposed_days >= 0)),
    CONSTRAINT item_inspect_days_check CHECK ((inspect_days >= 0)),
    CONSTRAINT item_lead_time_days_check CHECK ((lead_time_days >= 0)),
    CONSTRAINT item_made_months_check CHECK ((made_months >= 0)),
    CONSTRAINT item_opened_days_check CHECK ((opened_days >= 0)),
    CONSTRAINT item_stowed_months_check CHECK ((stowed_months >= 0)),
    CONSTRAINT item_tracked_by_check CHECK ((tracked_by = ANY (ARRAY['lot'::text, 'serial'::text]))),
    CONSTRAINT item_training_cycles_check CHECK ((training_cycles >= 0)),
    CONSTRAINT item_version_check CHECK ((version > 0)),
    CONSTRAINT item_category_fkey FOREIGN KEY (category) REFERENCES category(name),
    CONSTRAINT item_preferred_product_fkey FOREIGN KEY (preferred_product) REFERENCES product(id),
    CONSTRAINT item_pkey PRIMARY KEY (code)
);

CREATE INDEX item_category ON public.item USING btree (category);

CREATE TABLE kept (
    bag text COLLATE "C" NOT NULL,
    at_station text COLLATE "C" NOT NULL,
    seal text COLLATE "C" NOT NULL,
    judged_at bigint NOT NULL,
    until bigint,
    purpose text COLLATE "C" NOT NULL,
    inside text COLLATE "C" NOT NULL,
    state text COLLATE "C" NOT NULL,
    first_stop bigint NOT NULL,
    first_lot bigint NOT NULL,
    judged text COLLATE "C" NOT NULL,
    CONSTRAINT kept_pkey PRIMARY KEY (bag)
);

CREATE INDEX kept_first_stop ON public.kept USING btree (first_stop, bag) WHERE (first_stop > 0);

CREATE INDEX kept_says ON public.kept USING btree (bag) WHERE (judged <> ''::text);

CREATE INDEX kept_seal ON public.kept USING btree (seal) WHERE (seal <> ''::text);

CREATE TABLE kit_accept (
    list text COLLATE "C" NOT NULL,
    version bigint NOT NULL,
    line bigint NOT NULL,
    rank bigint NOT NULL,
    item text COLLATE "C" NOT NULL,
    CONSTRAINT kit_accept_rank_check CHECK ((rank >= 0)),
    CONSTRAINT kit_accept_item_fkey FOREIGN KEY (item) REFERENCES item(code),
    CONSTRAINT kit_accept_list_version_line_fkey FOREIGN KEY (list, version, line) REFERENCES kit_line(list, version, line),
    CONSTRAINT kit_accept_pkey PRIMARY KEY (list, version, line, rank),
    CONSTRAINT kit_accept_list_version_line_item_key UNIQUE (list, version, line, item)
);

CREATE TABLE kit_line (
    list text COLLATE "C" NOT NULL,
    version bigint NOT NULL,
    line bigint NOT NULL,
    item text COLLATE "C" NOT NULL,
    pouch text COLLATE "C" NOT NULL,
    par bigint NOT NULL,
    minimum bigint NOT NULL,
    critical boolean NOT NULL,
    presence_only boolean NOT NULL,
    carried_elsewhere text COLLATE "C" NOT NULL,
    CONSTRAINT kit_line_line_check CHECK ((line >= 0)),
    CONSTRAINT kit_line_minimum_check CHECK ((minimum >= 0)),
    CONSTRAINT kit_line_par_check CHECK ((par >= 0)),
    CONSTRAINT kit_line_item_fkey FOREIGN KEY (item) REFERENCES item(code),
    CONSTRAINT kit_line_list_version_fkey FOREIGN KEY (list, version) REFERENCES kit_list(code, version),
    CONSTRAINT kit_line_pkey PRIMARY KEY (list, version, line)
);

CREATE INDEX kit_line_item ON public.kit_line USING btree (item);

CREATE TABLE kit_list (
    code text COLLATE "C" NOT NULL,
    version bigint NOT NULL,
    name text COLLATE "C" NOT NULL,
    edition text COLLATE "C" NOT NULL,
    source text COLLATE "C" NOT NULL,
    valid_from date,
    valid_to date,
    sealed boolean NOT NULL,
    seal_warns boolean NOT NULL,
    seal_check_hours bigint NOT NULL,
    full_check_days bigint NOT NULL,
    min_remaining_days bigint NOT NULL,
    CONSTRAINT kit_list_check CHECK ((valid_to >= valid_from)),
    CONSTRAINT kit_list_code_check CHECK (((length(code) >= 1) AND (length(code) <= 40))),
    CONSTRAINT kit_list_full_check_days_check CHECK ((full_check_days >= 0)),
    CONSTRAINT kit_list_min_remaining_days_check CHECK ((min_remaining_days >= 0)),
    CONSTRAINT kit_list_seal_check_hours_check CHECK ((seal_check_hours >= 0)),
    CONSTRAINT kit_list_version_check CHECK ((version > 0)),
    CONSTRAINT kit_list_pkey PRIMARY KEY (code, version)
);

CREATE TABLE kit_module (
    list text COLLATE "C" NOT NULL,
    version bigint NOT NULL,
    rank bigint NOT NULL,
    module text COLLATE "C" NOT NULL,
    count bigint NOT NULL,
    CONSTRAINT kit_module_count_check CHECK ((count > 0)),
    CONSTRAINT kit_module_rank_check CHECK ((rank >= 0)),
    CONSTRAINT kit_module_list_version_fkey FOREIGN KEY (list, version) REFERENCES kit_list(code, version),
    CONSTRAINT kit_module_pkey PRIMARY KEY (list, version, rank),
    CONSTRAINT kit_module_list_version_module_key UNIQUE (list, version, module)
);

CREATE TABLE kit_rule (
    list text COLLATE "C" NOT NULL,
    version bigint NOT NULL,
    rank bigint NOT NULL,
    when_category text COLLATE "C",
    need_category text COLLATE "C",
    need_item text COLLATE "C",
    at_least bigint NOT NULL,
    severity text COLLATE "C" NOT NULL,
    because text COLLATE "C" NOT NULL,
    CONSTRAINT kit_rule_at_least_check CHECK ((at_least > 0)),
    CONSTRAINT kit_rule_check CHECK (((need_category IS NULL) <> (need_item IS NULL))),
    CONSTRAINT kit_rule_rank_check CHECK ((rank >= 0)),
    CONSTRAINT kit_rule_severity_check CHECK ((severity = ANY (ARRAY['stop'::text, 'warn'::text]))),
    CONSTRAINT kit_rule_list_version_fkey FOREIGN KEY (list, version) REFERENCES kit_list(code, version),
    CONSTRAINT kit_rule_need_category_fkey FOREIGN KEY (need_category) REFERENCES category(name),
    CONSTRAINT kit_rule_need_item_fkey FOREIGN KEY (need_item) REFERENCES item(code),
    CONSTRAINT kit_rule_when_category_fkey FOREIGN KEY (when_category) REFERENCES category(name),
    CONSTRAINT kit_rule_pkey PRIMARY KEY (list, version, rank)
);

CREATE TABLE lot (
    id bigint GENERATED ALWAYS AS IDENTITY NOT NULL,
    batch_id bigint NOT NULL,
    device boolean NOT NULL,
    stowed_on date,
    opened_on date,
    exposed_since date,
    exposed_days bigint NOT NULL,
    exposed_last date,
    training boolean NOT NULL,
    unidentified boolean NOT NULL,
    parent bigint,
    received_on date,
    CONSTRAINT lot_exposed_days_check CHECK ((exposed_days >= 0)),
    CONSTRAINT lot_batch_id_device_fkey FOREIGN KEY (batch_id, device) REFERENCES batch(id, device),
    CONSTRAINT lot_parent_fkey FOREIGN KEY (parent) REFERENCES lot(id),
    CONSTRAINT lot_pkey PRIMARY KEY (id),
    CONSTRAINT lot_id_batch_id_device_key UNIQUE (id, batch_id, device),
    CONSTRAINT lot_id_batch_id_key UNIQUE (id, batch_id)
);

CREATE UNIQUE INDEX lot_clocks ON public.lot USING btree (batch_id, COALESCE(stowed_on, '-infinity'::date), COALESCE(opened_on, '-infinity'::date), COALESCE(exposed_since, '-infinity'::date), exposed_days, COALESCE(exposed_last, '-infinity'::date), training, unidentified);

CREATE TABLE movement (
    id bigint GENERATED ALWAYS AS IDENTITY NOT NULL,
    station text COLLATE "C" NOT NULL,
    seq bigint NOT NULL,
    lot_id bigint NOT NULL,
    into_lot_id bigint NOT NULL,
    batch_id bigint NOT NULL,
    qty bigint NOT NULL,
    from_place text COLLATE "C" NOT NULL,
    to_place text COLLATE "C" NOT NULL,
    reason text COLLATE "C" NOT NULL,
    cause text COLLATE "C" NOT NULL,
    happened_at timestamp with time zone NOT NULL,
    recorded_at timestamp with time zone NOT NULL,
    by_name text COLLATE "C" NOT NULL,
    witness text COLLATE "C" NOT NULL,
    reference text COLLATE "C" NOT NULL,
    note text COLLATE "C" NOT NULL,
    corrects bigint,
    prev_hash text COLLATE "C" NOT NULL,
    hash text COLLATE "C" NOT NULL,
    CONSTRAINT movement_cause_check CHECK ((cause = ANY (ARRAY[''::text, 'expired'::text, 'damaged'::text, 'wasted'::text, 'training'::text, 'recalled'::text, 'missing'::text, 'other'::text]))),
    CONSTRAINT movement_check CHECK (((length(prev_hash) = 64) OR ((seq = 1) AND (prev_hash = ''::text)))),
    CONSTRAINT movement_check1 CHECK (((from_place <> to_place) OR (lot_id <> into_lot_id))),
    CONSTRAINT movement_check2 CHECK (((reason = 'correction'::text) = (corrects IS NOT NULL))),
    CONSTRAINT movement_hash_check CHECK ((length(hash) = 64)),
    CONSTRAINT movement_qty_check CHECK ((qty > 0)),
    CONSTRAINT movement_reason_check CHECK ((reason = ANY (ARRAY['receipt'::text, 'opening'::text, 'stow'::text, 'return'::text, 'transfer'::text, 'to_training'::text, 'quarantine'::text, 'release'::text, 'away'::text, 'used'::text, 'disposed'::text, 'lost'::text, 'found'::text, 'correction'::text, 'to_supplier'::text, 'converted'::text]))),
    CONSTRAINT movement_seq_check CHECK ((seq > 0)),
    CONSTRAINT movement_corrects_fkey FOREIGN KEY (corrects) REFERENCES movement(id),
    CONSTRAINT movement_from_place_fkey FOREIGN KEY (from_place) REFERENCES place(code),
    CONSTRAINT movement_into_lot_id_batch_id_fkey FOREIGN KEY (into_lot_id, batch_id) REFERENCES lot(id, batch_id),
    CONSTRAINT movement_lot_id_batch_id_fkey FOREIGN KEY (lot_id, batch_id) REFERENCES lot(id, batch_id),
    CONSTRAINT movement_site_fkey FOREIGN KEY (station) REFERENCES station(code),
    CONSTRAINT movement_to_place_fkey FOREIGN KEY (to_place) REFERENCES place(code),
    CONSTRAINT movement_pkey PRIMARY KEY (id),
    CONSTRAINT movement_corrects_key UNIQUE (corrects),
    CONSTRAINT movement_site_seq_key UNIQUE (station, seq)
);

CREATE INDEX movement_batch ON public.movement USING btree (batch_id);

CREATE INDEX movement_from ON public.movement USING btree (from_place);

CREATE INDEX movement_into_lot ON public.movement USING btree (into_lot_id);

CREATE INDEX movement_lot ON public.movement USING btree (lot_id);

CREATE INDEX movement_reference ON public.movement USING btree (reference) WHERE (reference <> ''::text);

CREATE INDEX movement_to ON public.movement USING btree (to_place);

CREATE TABLE notice (
    id bigint GENERATED ALWAYS AS IDENTITY NOT NULL,
    reference text COLLATE "C" NOT NULL,
    action text COLLATE "C" NOT NULL,
    item text COLLATE "C" NOT NULL,
    product bigint,
    batch_nos jsonb NOT NULL,
    serials jsonb NOT NULL,
    serial_from text COLLATE "C" NOT NULL,
    serial_to text COLLATE "C" NOT NULL,
    made_from date,
    made_to date,
    body text COLLATE "C" NOT NULL,
    status text COLLATE "C" NOT NULL,
    issued_at timestamp with time zone NOT NULL,
    issued_by text COLLATE "C" NOT NULL,
    ended_at timestamp with time zone,
    ended_by text COLLATE "C" NOT NULL,
    end_reason text COLLATE "C" NOT NULL,
    steps jsonb NOT NULL,
    CONSTRAINT notice_action_check CHECK ((action = ANY (ARRAY['withdraw'::text, 'inspect'::text, 'inform'::text]))),
    CONSTRAINT notice_check CHECK (((status = 'open'::text) = (ended_at IS NULL))),
    CONSTRAINT notice_check1 CHECK (((serial_from = ''::text) = (serial_to = ''::text))),
    CONSTRAINT notice_check2 CHECK (((made_from IS NULL) = (made_to IS NULL))),
    CONSTRAINT notice_reference_check CHECK ((reference <> ''::text)),
    CONSTRAINT notice_status_check CHECK ((status = ANY (ARRAY['open'::text, 'closed'::text, 'cancelled'::text]))),
    CONSTRAINT notice_item_fkey FOREIGN KEY (item) REFERENCES item(code),
    CONSTRAINT notice_product_fkey FOREIGN KEY (product) REFERENCES product(id),
    CONSTRAINT notice_pkey PRIMARY KEY (id)
);

CREATE INDEX notice_item ON public.notice USING btree (item);

CREATE UNIQUE INDEX notice_reference ON public.notice USING btree (item, reference) WHERE (status <> 'cancelled'::text);

CREATE TABLE observation (
    id bigint GENERATED ALWAYS AS IDENTITY NOT NULL,
    bag text COLLATE "C" NOT NULL,
    kind text COLLATE "C" NOT NULL,
    item text COLLATE "C",
    lot_id bigint,
    body text COLLATE "C" NOT NULL,
    source text COLLATE "C" NOT NULL,
    opened_at timestamp with time zone NOT NULL,
    opened_by text COLLATE "C" NOT NULL,
    closed_at timestamp with time zone,
    closed_by text COLLATE "C" NOT NULL,
    close_reason text COLLATE "C" NOT NULL,
    CONSTRAINT observation_check CHECK (((closed_at IS NULL) = (close_reason = ''::text))),
    CONSTRAINT observation_kind_check CHECK ((kind = ANY (ARRAY['training_mark'::text, 'other_seal'::text, 'failed_point'::text, 'unidentified'::text, 'not_in_ledger'::text]))),
    CONSTRAINT observation_bag_fkey FOREIGN KEY (bag) REFERENCES bag(code),
    CONSTRAINT observation_item_fkey FOREIGN KEY (item) REFERENCES item(code),
    CONSTRAINT observation_lot_id_fkey FOREIGN KEY (lot_id) REFERENCES lot(id),
    CONSTRAINT observation_pkey PRIMARY KEY (id)
);

CREATE INDEX observation_bag ON public.observation USING btree (bag);

CREATE INDEX observation_open ON public.observation USING btree (bag) WHERE (closed_at IS NULL);

CREATE TABLE one_time_link (
    hash text COLLATE "C" NOT NULL,
    kind text COLLATE "C" NOT NULL,
    terminal bigint,
    ends_at timestamp with time zone NOT NULL,
    CONSTRAINT one_time_link_check CHECK (((kind = 'enrol'::text) = (terminal IS NOT NULL))),
    CONSTRAINT one_time_link_kind_check CHECK ((kind = ANY (ARRAY['welcome'::text, 'enrol'::text]))),
    CONSTRAINT one_time_link_terminal_fkey FOREIGN KEY (terminal) REFERENCES terminal(id),
    CONSTRAINT one_time_link_pkey PRIMARY KEY (hash)
);

CREATE TABLE past_usage (
    station text COLLATE "C" NOT NULL,
    item text COLLATE "C" NOT NULL,
    period text COLLATE "C" NOT NULL,
    qty bigint NOT NULL,
    CONSTRAINT past_usage_period_check CHECK ((length(period) = ANY (ARRAY[7, 10]))),
    CONSTRAINT past_usage_qty_check CHECK ((qty >= 0)),
    CONSTRAINT past_usage_item_fkey FOREIGN KEY (item) REFERENCES item(code),
    CONSTRAINT past_usage_site_fkey FOREIGN KEY (station) REFERENCES station(code),
    CONSTRAINT past_usage_pkey PRIMARY KEY (station, item, period)
);

CREATE INDEX past_usage_item ON public.past_usage USING btree (item);

CREATE TABLE person (
    id bigint GENERATED ALWAYS AS IDENTITY NOT NULL,
    name text COLLATE "C" NOT NULL,
    folded text COLLATE "C" NOT NULL,
    role text COLLATE "C" NOT NULL,
    secret_hash text COLLATE "C" NOT NULL,
    disabled boolean NOT NULL,
    attempts bigint NOT NULL,
    locked_till timestamp with time zone,
    CONSTRAINT person_role_check CHECK ((role = ANY (ARRAY['crew'::text, 'quartermaster'::text, 'manager'::text, 'administrator'::text]))),
    CONSTRAINT person_tries_check CHECK ((attempts >= 0)),
    CONSTRAINT person_pkey PRIMARY KEY (id),
    CONSTRAINT person_folded_key UNIQUE (folded)
);

CREATE TABLE person_station (
    person bigint NOT NULL,
    station text COLLATE "C" NOT NULL,
    CONSTRAINT person_site_person_fkey FOREIGN KEY (person) REFERENCES person(id),
    CONSTRAINT person_site_site_fkey FOREIGN KEY (station) REFERENCES station(code),
    CONSTRAINT person_site_pkey PRIMARY KEY (person, station)
);

CREATE TABLE place (
    code text COLLATE "C" NOT NULL,
    station text COLLATE "C",
    at_station text COLLATE "C",
    kind text COLLATE "C" NOT NULL,
    purpose text COLLATE "C" NOT NULL,
    name text COLLATE "C" NOT NULL,
    holder text COLLATE "C" NOT NULL,
    due_back date,
    version bigint NOT NULL,
    vehicle text COLLATE "C" NOT NULL,
    CONSTRAINT place_check CHECK (((kind = ANY (ARRAY['supplier'::text, 'used'::text, 'disposed'::text, 'lost'::text, 'found'::text])) = (station IS NULL))),
    CONSTRAINT place_check1 CHECK (((station IS NULL) = (at_station IS NULL))),
    CONSTRAINT place_check2 CHECK (((station IS NULL) = (purpose = ''::text))),
    CONSTRAINT place_check3 CHECK (((station IS NOT NULL) OR (code = kind))),
    CONSTRAINT place_code_check CHECK (((length(code) >= 1) AND (length(code) <= 40))),
    CONSTRAINT place_kind_check CHECK ((kind = ANY (ARRAY['store'::text, 'bag'::text, 'carrier'::text, 'quarantine'::text, 'away'::text, 'transit'::text, 'supplier'::text, 'used'::text, 'disposed'::text, 'lost'::text, 'found'::text]))),
    CONSTRAINT place_purpose_check CHECK ((purpose = ANY (ARRAY['issue'::text, 'training'::text, ''::text]))),
    CONSTRAINT place_version_check CHECK ((version > 0)),
    CONSTRAINT place_at_site_fkey FOREIGN KEY (at_station) REFERENCES station(code),
    CONSTRAINT place_site_fkey FOREIGN KEY (station) REFERENCES station(code),
    CONSTRAINT place_pkey PRIMARY KEY (code)
);

CREATE INDEX place_at_station ON public.place USING btree (at_station, kind);

CREATE INDEX place_station ON public.place USING btree (station, kind);

CREATE INDEX place_vehicle ON public.place USING btree (vehicle) WHERE (vehicle <> ''::text);

CREATE TABLE place_moved (
    id bigint GENERATED ALWAYS AS IDENTITY NOT NULL,
    place text COLLATE "C" NOT NULL,
    station text COLLATE "C" NOT NULL,
    until bigint NOT NULL,
    moved_at timestamp with time zone,
    CONSTRAINT place_moved_until_check CHECK ((until >= 0)),
    CONSTRAINT place_moved_place_fkey FOREIGN KEY (place) REFERENCES place(code),
    CONSTRAINT place_moved_station_fkey FOREIGN KEY (station) REFERENCES station(code),
    CONSTRAINT place_moved_pkey PRIMARY KEY (id)
);

CREATE INDEX place_moved_place ON public.place_moved USING btree (place);

CREATE TABLE product (
    id bigint GENERATED ALWAYS AS IDENTITY NOT NULL,
    item text COLLATE "C" NOT NULL,
    gtin text COLLATE "C" NOT NULL,
    hibc text COLLATE "C" NOT NULL,
    maker_reference text COLLATE "C" NOT NULL,
    supplier text COLLATE "C" NOT NULL,
    pack_size bigint NOT NULL,
    version bigint NOT NULL,
    minimum_packs bigint NOT NULL,
    prices jsonb NOT NULL,
    CONSTRAINT product_pack_size_check CHECK ((pack_size > 0)),
    CONSTRAINT product_version_check CHECK ((version > 0)),
    CONSTRAINT product_item_fkey FOREIGN KEY (item) REFERENCES item(code),
    CONSTRAINT product_pkey PRIMARY KEY (id)
);

CREATE INDEX product_gtin ON public.product USING btree (gtin) WHERE (gtin <> ''::text);

CREATE INDEX product_hibc ON public.product USING btree (hibc) WHERE (hibc <> ''::text);

CREATE INDEX product_item ON public.product USING btree (item);

CREATE TABLE register_owed (
    movement_id bigint NOT NULL,
    own boolean NOT NULL,
    CONSTRAINT register_owed_movement_id_fkey FOREIGN KEY (movement_id) REFERENCES movement(id),
    CONSTRAINT register_owed_pkey PRIMARY KEY (movement_id)
);

CREATE TABLE register_signature (
    id bigint GENERATED ALWAYS AS IDENTITY NOT NULL,
    movement_id bigint NOT NULL,
    person text COLLATE "C" NOT NULL,
    recorded_at timestamp with time zone NOT NULL,
    CONSTRAINT register_signature_person_check CHECK ((person <> ''::text)),
    CONSTRAINT register_signature_movement_id_fkey FOREIGN KEY (movement_id) REFERENCES register_owed(movement_id),
    CONSTRAINT register_signature_pkey PRIMARY KEY (id),
    CONSTRAINT register_signature_movement_id_person_key UNIQUE (movement_id, person)
);

CREATE TABLE reported (
    id bigint GENERATED ALWAYS AS IDENTITY NOT NULL,
    check_id bigint,
    use_id bigint,
    place text COLLATE "C" NOT NULL,
    kind text COLLATE "C" NOT NULL,
    item text COLLATE "C",
    lot_id bigint,
    qty bigint NOT NULL,
    settled bigint NOT NULL,
    pool bigint NOT NULL,
    note text COLLATE "C" NOT NULL,
    CONSTRAINT reported_check CHECK (((check_id IS NULL) <> (use_id IS NULL))),
    CONSTRAINT reported_kind_check CHECK ((kind = ANY (ARRAY['used'::text, 'missing'::text, 'damaged'::text, 'expired'::text, 'moved'::text, 'failed'::text, 'training_mark'::text, 'unidentified'::text, 'opened'::text, 'broken'::text, 'different'::text]))),
    CONSTRAINT reported_pool_check CHECK ((pool >= 0)),
    CONSTRAINT reported_qty_check CHECK ((qty >= 0)),
    CONSTRAINT reported_settled_check CHECK ((settled >= 0)),
    CONSTRAINT reported_check_id_fkey FOREIGN KEY (check_id) REFERENCES bag_check(id),
    CONSTRAINT reported_item_fkey FOREIGN KEY (item) REFERENCES item(code),
    CONSTRAINT reported_lot_id_fkey FOREIGN KEY (lot_id) REFERENCES lot(id),
    CONSTRAINT reported_place_fkey FOREIGN KEY (place) REFERENCES bag(code),
    CONSTRAINT reported_use_id_fkey FOREIGN KEY (use_id) REFERENCES bag_use(id),
    CONSTRAINT reported_pkey PRIMARY KEY (id)
);

CREATE INDEX reported_check ON public.reported USING btree (check_id) WHERE (check_id IS NOT NULL);

CREATE INDEX reported_use ON public.reported USING btree (use_id) WHERE (use_id IS NOT NULL);

CREATE TABLE restock (
    id bigint GENERATED ALWAYS AS IDENTITY NOT NULL,
    bag text COLLATE "C" NOT NULL,
    recorded_at timestamp with time zone NOT NULL,
    by_name text COLLATE "C" NOT NULL,
    lines jsonb NOT NULL,
    take_out jsonb NOT NULL,
    seal_set text COLLATE "C" NOT NULL,
    note text COLLATE "C" NOT NULL,
    happened_at timestamp with time zone,
    CONSTRAINT restock_bag_fkey FOREIGN KEY (bag) REFERENCES bag(code),
    CONSTRAINT restock_pkey PRIMARY KEY (id)
);

CREATE INDEX restock_bag ON public.restock USING btree (bag);

CREATE TABLE seal (
    id bigint GENERATED ALWAYS AS IDENTITY NOT NULL,
    bag text COLLATE "C" NOT NULL,
    happened_at timestamp with time zone NOT NULL,
    by_name text COLLATE "C" NOT NULL,
    event text COLLATE "C" NOT NULL,
    number text COLLATE "C" NOT NULL,
    expected text COLLATE "C" NOT NULL,
    source text COLLATE "C" NOT NULL,
    note text COLLATE "C" NOT NULL,
    CONSTRAINT seal_event_check CHECK ((event = ANY (ARRAY['set'::text, 'seen'::text, 'broken'::text, 'different'::text, 'opened'::text]))),
    CONSTRAINT seal_bag_fkey FOREIGN KEY (bag) REFERENCES bag(code),
    CONSTRAINT seal_pkey PRIMARY KEY (id)
);

CREATE INDEX seal_bag ON public.seal USING btree (bag);

CREATE TABLE service (
    entry_seq bigint NOT NULL,
    entry_hash text COLLATE "C" NOT NULL,
    gaps bigint NOT NULL
);

CREATE TABLE session (
    hash text COLLATE "C" NOT NULL,
    person bigint NOT NULL,
    device text COLLATE "C" NOT NULL,
    created_at timestamp with time zone NOT NULL,
    seen_at timestamp with time zone NOT NULL,
    ends_at timestamp with time zone NOT NULL,
    terminal bigint,
    CONSTRAINT session_person_fkey FOREIGN KEY (person) REFERENCES person(id),
    CONSTRAINT session_terminal_fkey FOREIGN KEY (terminal) REFERENCES terminal(id),
    CONSTRAINT session_pkey PRIMARY KEY (hash)
);

CREATE INDEX session_ends ON public.session USING btree (ends_at);

CREATE INDEX session_person ON public.session USING btree (person);

CREATE INDEX session_terminal ON public.session USING btree (terminal) WHERE (terminal IS NOT NULL);

CREATE TABLE sheet_offset (
    station text COLLATE "C" NOT NULL,
    sheet text COLLATE "C" NOT NULL,
    right_by bigint NOT NULL,
    down_by bigint NOT NULL,
    CONSTRAINT sheet_offset_down_by_check CHECK (((down_by >= '-500'::integer) AND (down_by <= 500))),
    CONSTRAINT sheet_offset_right_by_check CHECK (((right_by >= '-500'::integer) AND (right_by <= 500))),
    CONSTRAINT sheet_offset_sheet_check CHECK ((sheet <> ''::text)),
    CONSTRAINT sheet_offset_site_fkey FOREIGN KEY (station) REFERENCES station(code),
    CONSTRAINT sheet_offset_pkey PRIMARY KEY (station, sheet)
);

CREATE TABLE sign_in_attempt (
    subject text COLLATE "C" NOT NULL,
    attempts bigint NOT NULL,
    last_at timestamp with time zone,
    locked_till timestamp with time zone,
    CONSTRAINT sign_in_try_tries_check CHECK ((attempts >= 0)),
    CONSTRAINT sign_in_try_pkey PRIMARY KEY (subject)
);

CREATE TABLE station (
    code text COLLATE "C" NOT NULL,
    name text COLLATE "C" NOT NULL,
    timezone text COLLATE "C" NOT NULL,
    chain_seq bigint NOT NULL,
    chain_hash text COLLATE "C" NOT NULL,
    entry_seq bigint NOT NULL,
    entry_hash text COLLATE "C" NOT NULL,
    closed_at timestamp with time zone,
    lock_minutes bigint NOT NULL,
    night_vehicles jsonb NOT NULL,
    position text COLLATE "C" NOT NULL,
    travel_minutes jsonb NOT NULL,
    CONSTRAINT site_chain_seq_check CHECK ((chain_seq >= 0)),
    CONSTRAINT site_check CHECK (((chain_seq = 0) = (chain_hash = ''::text))),
    CONSTRAINT site_code_check CHECK (((length(code) >= 1) AND (length(code) <= 40))),
    CONSTRAINT site_pkey PRIMARY KEY (code)
);

CREATE TABLE terminal (
    id bigint GENERATED ALWAYS AS IDENTITY NOT NULL,
    name text COLLATE "C" NOT NULL,
    station text COLLATE "C",
    hash text COLLATE "C",
    created_at timestamp with time zone NOT NULL,
    created_by text COLLATE "C" NOT NULL,
    enrolled_at timestamp with time zone,
    revoked_at timestamp with time zone,
    last_used date,
    CONSTRAINT terminal_check CHECK (((hash IS NULL) = (enrolled_at IS NULL))),
    CONSTRAINT terminal_name_check CHECK ((name <> ''::text)),
    CONSTRAINT terminal_site_fkey FOREIGN KEY (station) REFERENCES station(code),
    CONSTRAINT terminal_pkey PRIMARY KEY (id),
    CONSTRAINT terminal_hash_key UNIQUE (hash)
);

CREATE TABLE token (
    id bigint GENERATED ALWAYS AS IDENTITY NOT NULL,
    name text COLLATE "C" NOT NULL,
    role text COLLATE "C" NOT NULL,
    hash text COLLATE "C" NOT NULL,
    created_at timestamp with time zone NOT NULL,
    revoked_at timestamp with time zone,
    last_used date,
    scope text COLLATE "C" NOT NULL,
    ends_at timestamp with time zone,
    created_by text COLLATE "C" NOT NULL,
    CONSTRAINT token_role_check CHECK ((role = ANY (ARRAY['crew'::text, 'quartermaster'::text, 'manager'::text, 'administrator'::text]))),
    CONSTRAINT token_pkey PRIMARY KEY (id),
    CONSTRAINT token_hash_key UNIQUE (hash)
);

CREATE TABLE token_station (
    token bigint NOT NULL,
    station text COLLATE "C" NOT NULL,
    CONSTRAINT token_site_site_fkey FOREIGN KEY (station) REFERENCES station(code),
    CONSTRAINT token_site_token_fkey FOREIGN KEY (token) REFERENCES token(id),
    CONSTRAINT token_site_pkey PRIMARY KEY (token, station)
);

CREATE TABLE training_use (
    id bigint GENERATED ALWAYS AS IDENTITY NOT NULL,
    batch_id bigint NOT NULL,
    lot_id bigint NOT NULL,
    happened_at timestamp with time zone NOT NULL,
    recorded_at timestamp with time zone NOT NULL,
    by_name text COLLATE "C" NOT NULL,
    cycles bigint NOT NULL,
    class text COLLATE "C" NOT NULL,
    CONSTRAINT training_use_cycles_check CHECK ((cycles > 0)),
    CONSTRAINT training_use_lot_id_batch_id_fkey FOREIGN KEY (lot_id, batch_id) REFERENCES lot(id, batch_id),
    CONSTRAINT training_use_pkey PRIMARY KEY (id)
);

CREATE INDEX training_use_batch ON public.training_use USING btree (batch_id);

CREATE TABLE upload (
    code text COLLATE "C" NOT NULL,
    owner text COLLATE "C" NOT NULL,
    kept_at bigint NOT NULL,
    heard_at bigint NOT NULL,
    state text COLLATE "C" NOT NULL,
    CONSTRAINT upload_pkey PRIMARY KEY (code)
);

CREATE TABLE upload_part (
    upload text COLLATE "C" NOT NULL,
    seq bigint NOT NULL,
    body bytea NOT NULL,
    CONSTRAINT upload_part_seq_check CHECK ((seq > 0)),
    CONSTRAINT upload_part_upload_fkey FOREIGN KEY (upload) REFERENCES upload(code) ON DELETE CASCADE,
    CONSTRAINT upload_part_pkey PRIMARY KEY (upload, seq)
);

CREATE TABLE vehicle_out_of_service (
    id bigint GENERATED ALWAYS AS IDENTITY NOT NULL,
    station text COLLATE "C" NOT NULL,
    vehicle text COLLATE "C" NOT NULL,
    reason text COLLATE "C" NOT NULL,
    recorded_at timestamp with time zone NOT NULL,
    by_name text COLLATE "C" NOT NULL,
    back_at timestamp with time zone,
    back_by text COLLATE "C" NOT NULL,
    CONSTRAINT vehicle_off_check CHECK (((back_at IS NULL) = (back_by = ''::text))),
    CONSTRAINT vehicle_off_reason_check CHECK ((reason <> ''::text)),
    CONSTRAINT vehicle_off_vehicle_check CHECK ((vehicle <> ''::text)),
    CONSTRAINT vehicle_off_site_fkey FOREIGN KEY (station) REFERENCES station(code),
    CONSTRAINT vehicle_off_pkey PRIMARY KEY (id)
);

CREATE UNIQUE INDEX vehicle_out_of_service_now ON public.vehicle_out_of_service USING btree (station, vehicle) WHERE (back_at IS NULL);

