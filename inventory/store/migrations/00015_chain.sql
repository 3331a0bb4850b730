-- +goose Up

-- Every fact is in a chain: the history is it. An entry has its number in its
-- chain, what it says of rows, and the hash over the entry before and itself.
-- Entries from before have no number, and are rows like any other.
ALTER TABLE history_entry ADD COLUMN chain {{text}} NOT NULL DEFAULT '';
ALTER TABLE history_entry ADD COLUMN seq {{int}};
ALTER TABLE history_entry ADD COLUMN facts {{text}} NOT NULL DEFAULT '';
ALTER TABLE history_entry ADD COLUMN hash {{text}} NOT NULL DEFAULT '';
CREATE UNIQUE INDEX history_entry_chain ON history_entry (chain, seq) WHERE seq IS NOT NULL;

-- The ends of these chains, beside those of the movements; that of what belongs
-- to no station stands alone.
ALTER TABLE station ADD COLUMN entry_seq {{int}} NOT NULL DEFAULT 0;
ALTER TABLE station ADD COLUMN entry_hash {{text}} NOT NULL DEFAULT '';
CREATE TABLE service (
    entry_seq {{int}} NOT NULL,
    entry_hash {{text}} NOT NULL
){{strict}};
INSERT INTO service (entry_seq, entry_hash) VALUES (0, '');

-- People and programs stand in the chains by a number.
CREATE TABLE actor (
    {{id}},
    name {{text}} NOT NULL UNIQUE
){{strict}};

-- It is there until every row from before is in a chain.
CREATE TABLE entering (
    done {{int}}
){{strict}};
