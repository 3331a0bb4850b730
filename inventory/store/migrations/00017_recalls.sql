-- +goose Up

-- What was done about a notice since it was issued, and what was recorded of a
-- batch before it was corrected. numbers holds every number that a batch ever
-- bore, folded, each between two unit separators; the program fills it at start.
ALTER TABLE notice ADD COLUMN {{json "steps"}} NOT NULL DEFAULT '[]';
ALTER TABLE batch ADD COLUMN {{json "formerly"}} NOT NULL DEFAULT '[]';
ALTER TABLE batch ADD COLUMN numbers {{text}} NOT NULL DEFAULT '';

-- A batch that turned out to be another one stays a row of its own with the
-- other's facts: its lots and movements are its own.
ALTER TABLE batch ADD COLUMN merged_into {{int}} REFERENCES batch (id);
ALTER TABLE batch_correction ADD COLUMN merged {{int}} REFERENCES batch (id);
CREATE INDEX batch_merged ON batch (merged_into) WHERE merged_into IS NOT NULL;
DROP INDEX batch_batch_no;
DROP INDEX batch_serial_alone;
DROP INDEX batch_number;
CREATE UNIQUE INDEX batch_number ON batch (item, coalesce(product, 0), batch_no) WHERE NOT device AND batch_no <> '' AND merged_into IS NULL;

{{if sqlite -}}
UPDATE batch SET formerly = (SELECT json_group_array(json(json_insert(c.old_value, '$.item', batch.item, '$.product', coalesce(batch.product, 0))))
    FROM (SELECT old_value FROM batch_correction WHERE batch_id = batch.id ORDER BY id) c)
WHERE id IN (SELECT batch_id FROM batch_correction);
{{else -}}
UPDATE batch SET formerly = (SELECT jsonb_agg(c.old_value || jsonb_build_object('item', batch.item, 'product', coalesce(batch.product, 0)) ORDER BY c.id)
    FROM batch_correction c WHERE c.batch_id = batch.id)
WHERE id IN (SELECT batch_id FROM batch_correction);
{{end -}}
