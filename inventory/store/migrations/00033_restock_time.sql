-- +goose Up

-- When a restock was made, where it was recorded later: it was written on paper.
ALTER TABLE restock ADD COLUMN {{instant "happened_at"}};

-- A receipt looks for its number among all batches of the item.
DROP INDEX batch_item;
CREATE INDEX batch_item ON batch (item, batch_no);
