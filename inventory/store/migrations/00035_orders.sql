-- +goose Up
{{if sqlite}}-- A kind of document more. What is checked stays otherwise, so the text of the schema is all that changes
-- (https://www.sqlite.org/lang_altertable.html, section 7).
PRAGMA writable_schema = ON;
UPDATE sqlite_schema SET sql = replace(sql, '''transfer_receipt'', ''count''', '''transfer_receipt'', ''count'', ''order''')
WHERE type = 'table' AND name = 'document';
PRAGMA writable_schema = RESET;
{{else}}ALTER TABLE document DROP CONSTRAINT document_kind_check;
ALTER TABLE document ADD CONSTRAINT document_kind_check CHECK (kind IN ('transfer', 'transfer_receipt', 'count', 'order'));
{{end}}