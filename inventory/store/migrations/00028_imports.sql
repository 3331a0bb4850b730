-- +goose Up

-- What an import looks for: units of an item that bear no number.
CREATE INDEX batch_numberless ON batch (item) WHERE batch_no = '' AND serial = '';

-- A file that was uploaded, until it is imported or forgotten: any copy of the program may go on with it. Times are in
-- microseconds since 1970; heard_at is 0 where nobody reads the file. What came of it is in its state.
CREATE TABLE upload (
    code {{text}} NOT NULL PRIMARY KEY,
    owner {{text}} NOT NULL,
    kept_at {{int}} NOT NULL,
    heard_at {{int}} NOT NULL,
    state {{text}} NOT NULL
){{strict}};

CREATE TABLE upload_part (
    upload {{text}} NOT NULL REFERENCES upload (code) ON DELETE CASCADE,
    seq {{int}} NOT NULL CHECK (seq > 0),
    body {{blob}} NOT NULL,
    PRIMARY KEY (upload, seq)
){{strict}};
