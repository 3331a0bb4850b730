-- +goose Up

-- A bag that is retired keeps its row for the sake of its history and of the
-- label that somebody may still scan.
ALTER TABLE bag ADD COLUMN {{instant "retired_at"}};
ALTER TABLE bag ADD COLUMN retired_by {{text}} NOT NULL DEFAULT '' CHECK ((retired_at IS NULL) = (retired_by = ''));
ALTER TABLE bag ADD COLUMN successor {{text}} REFERENCES bag (code)
    CHECK (successor IS NULL OR (successor <> code AND retired_at IS NOT NULL));

CREATE INDEX bag_successor ON bag (successor) WHERE successor IS NOT NULL;

-- How far a station's printer prints beside a sheet of labels, in hundredths
-- of a millimetre.
CREATE TABLE sheet_offset (
    site {{text}} NOT NULL REFERENCES site (code),
    sheet {{text}} NOT NULL CHECK (sheet <> ''),
    right_by {{int}} NOT NULL CHECK (right_by BETWEEN -500 AND 500),
    down_by {{int}} NOT NULL CHECK (down_by BETWEEN -500 AND 500),
    PRIMARY KEY (site, sheet)
){{clustered}};
