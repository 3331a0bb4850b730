-- +goose Up
{{if sqlite}}-- Checks that an older SQLite reads otherwise: to it NULL is no JSON. What is checked stays, so the text of the schema
-- is all that changes (https://www.sqlite.org/lang_altertable.html, section 7).
PRAGMA writable_schema = ON;
UPDATE sqlite_schema SET sql = replace(replace(replace(sql, '(json_valid(decision))', '(decision IS NULL OR json_valid(decision))'),
    '(json_valid(old_value))', '(old_value IS NULL OR json_valid(old_value))'),
    '(json_valid(new_value))', '(new_value IS NULL OR json_valid(new_value))')
WHERE type = 'table' AND name IN ('bag_check', 'bag_use', 'lot_correction', 'batch_correction');
PRAGMA writable_schema = OFF;
-- The schema has changed, for every connection that knows it.
CREATE TABLE changed (x INTEGER);
DROP TABLE changed;
{{else}}SELECT 1;
{{end}}