-- +goose Up

CREATE TABLE person (
    {{id}},
    name {{text}} NOT NULL,
    folded {{text}} NOT NULL UNIQUE,
    role {{text}} NOT NULL CHECK (role IN ('crew', 'quartermaster', 'manager', 'administrator')),
    secret_hash {{text}} NOT NULL,
    {{bool "disabled"}},
    tries {{int}} NOT NULL CHECK (tries >= 0),
    {{instant "locked_till"}}
){{strict}};

CREATE TABLE person_site (
    person {{int}} NOT NULL REFERENCES person (id),
    site {{text}} NOT NULL REFERENCES site (code),
    PRIMARY KEY (person, site)
){{clustered}};

CREATE TABLE token (
    {{id}},
    name {{text}} NOT NULL,
    role {{text}} NOT NULL CHECK (role IN ('crew', 'quartermaster', 'manager', 'administrator')),
    hash {{text}} NOT NULL UNIQUE,
    {{instant "created_at"}} NOT NULL,
    {{instant "revoked_at"}},
    {{day "last_used"}}
){{strict}};

CREATE TABLE token_site (
    token {{int}} NOT NULL REFERENCES token (id),
    site {{text}} NOT NULL REFERENCES site (code),
    PRIMARY KEY (token, site)
){{clustered}};

CREATE TABLE session (
    hash {{text}} PRIMARY KEY,
    person {{int}} NOT NULL REFERENCES person (id),
    device {{text}} NOT NULL,
    {{instant "created_at"}} NOT NULL,
    {{instant "seen_at"}} NOT NULL,
    {{instant "ends_at"}} NOT NULL
){{strict}};

CREATE INDEX session_person ON session (person);
CREATE INDEX session_ends ON session (ends_at);

-- Answers to requests that must not count twice, kept with their effect.
CREATE TABLE answer (
    request_key {{text}} NOT NULL,
    principal {{text}} NOT NULL,
    method {{text}} NOT NULL,
    path {{text}} NOT NULL,
    body_hash {{text}} NOT NULL,
    status {{int}} NOT NULL,
    content_type {{text}} NOT NULL,
    body {{blob}} NOT NULL,
    {{instant "created_at"}} NOT NULL,
    PRIMARY KEY (request_key, principal, method, path)
){{strict}};
