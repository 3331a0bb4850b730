-- +goose Up

-- Categories are a checked list that the owner can extend.
CREATE TABLE category (
    name {{text}} PRIMARY KEY CHECK (length(name) BETWEEN 1 AND 120)
){{clustered}};

INSERT INTO category (name) VALUES
    ('tourniquet'), ('marker'), ('record card'), ('pressure dressing'), ('plain dressing'), ('haemostatic'),
    ('airway'), ('immobilisation'), ('pain relief'), ('medicine'), ('diagnostic'), ('protective'), ('tool'), ('other');

-- A site carries the head of its chain of movements.
CREATE TABLE site (
    code {{text}} PRIMARY KEY CHECK (length(code) BETWEEN 1 AND 40),
    name {{text}} NOT NULL,
    timezone {{text}} NOT NULL,
    chain_seq {{int}} NOT NULL CHECK (chain_seq >= 0),
    chain_hash {{text}} NOT NULL,
    CHECK ((chain_seq = 0) = (chain_hash = ''))
){{strict}};

-- A place belongs to a site; at_site is where it is, which differs for a bag
-- that is lent. The five places outside the service have no site.
CREATE TABLE place (
    code {{text}} PRIMARY KEY CHECK (length(code) BETWEEN 1 AND 40),
    site {{text}} REFERENCES site (code),
    at_site {{text}} REFERENCES site (code),
    kind {{text}} NOT NULL CHECK (kind IN ('store', 'bag', 'carrier', 'quarantine', 'away', 'supplier', 'used', 'disposed', 'lost', 'found')),
    purpose {{text}} NOT NULL CHECK (purpose IN ('issue', 'training', '')),
    name {{text}} NOT NULL,
    holder {{text}} NOT NULL,
    {{day "due_back"}},
    version {{int}} NOT NULL CHECK (version > 0),
    CHECK ((kind IN ('supplier', 'used', 'disposed', 'lost', 'found')) = (site IS NULL)),
    CHECK ((site IS NULL) = (at_site IS NULL)),
    CHECK ((site IS NULL) = (purpose = '')),
    CHECK (site IS NOT NULL OR code = kind)
){{strict}};

CREATE INDEX place_site ON place (site, kind);
CREATE INDEX place_at_site ON place (at_site, kind);

INSERT INTO place (code, kind, purpose, name, holder, version) VALUES
    ('supplier', 'supplier', '', 'supplier', '', 1),
    ('used', 'used', '', 'used', '', 1),
    ('disposed', 'disposed', '', 'disposed', '', 1),
    ('lost', 'lost', '', 'lost', '', 1),
    ('found', 'found', '', 'found', '', 1);
