-- +goose Up

-- What a pack of a product costs, from which days on, and the fewest packs that its supplier sends.
ALTER TABLE product ADD COLUMN minimum_packs {{int}} NOT NULL DEFAULT 0;
ALTER TABLE product ADD COLUMN {{json "prices"}} NOT NULL DEFAULT '[]';
