-- +goose Up

-- What a site used of an item in a month or on a day before it kept its stock
-- here: history for working out demand, and no stock.
CREATE TABLE past_usage (
    site {{text}} NOT NULL REFERENCES site (code),
    item {{text}} NOT NULL REFERENCES item (code),
    period {{text}} NOT NULL CHECK (length(period) IN (7, 10)),
    qty {{int}} NOT NULL CHECK (qty >= 0),
    PRIMARY KEY (site, item, period)
){{clustered}};

CREATE INDEX past_usage_item ON past_usage (item);
