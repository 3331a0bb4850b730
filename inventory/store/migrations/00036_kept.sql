-- +goose Up

-- What each bag was last judged to be. until is the first instant, in microseconds since 1970, at which it may be
-- another without any record; none where something was recorded since that it rests on. judged is what reports have to
-- say of it, in JSON. seal is the number on it by the newest record, folded.
CREATE TABLE kept (
    bag {{text}} PRIMARY KEY,
    at_station {{text}} NOT NULL DEFAULT '',
    seal {{text}} NOT NULL DEFAULT '',
    judged_at {{int}} NOT NULL DEFAULT 0,
    until {{int}},
    purpose {{text}} NOT NULL DEFAULT '',
    inside {{text}} NOT NULL DEFAULT '',
    state {{text}} NOT NULL DEFAULT '',
    first_stop {{int}} NOT NULL DEFAULT 0,
    first_lot {{int}} NOT NULL DEFAULT 0,
    judged {{text}} NOT NULL DEFAULT ''
){{clustered}};

CREATE INDEX kept_first_stop ON kept (first_stop, bag) WHERE first_stop > 0;
CREATE INDEX kept_seal ON kept (seal) WHERE seal <> '';
CREATE INDEX kept_says ON kept (bag) WHERE judged <> '';
