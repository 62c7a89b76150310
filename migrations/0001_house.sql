-- The first schema. Times are RFC 3339 text in UTC, dates ISO 8601 text, tokens are kept only as
-- SHA-256. Readings live as the record document exactly as it was entered; everything in
-- `evaluation` and `ranking` is derived from it and can be computed again.

CREATE TABLE operator (
    id            INTEGER PRIMARY KEY,
    name          TEXT NOT NULL UNIQUE COLLATE NOCASE CHECK (length(name) BETWEEN 1 AND 80),
    password_hash TEXT NOT NULL,
    created_at    TEXT NOT NULL
) STRICT;

CREATE TABLE session (
    token_hash  BLOB PRIMARY KEY CHECK (length(token_hash) = 32),
    operator_id INTEGER NOT NULL REFERENCES operator (id) ON DELETE CASCADE,
    csrf_token  TEXT NOT NULL,
    created_at  TEXT NOT NULL,
    expires_at  TEXT NOT NULL
) STRICT;

CREATE INDEX session_by_expiry ON session (expires_at);

CREATE TABLE api_token (
    id          INTEGER PRIMARY KEY,
    token_hash  BLOB NOT NULL UNIQUE CHECK (length(token_hash) = 32),
    operator_id INTEGER NOT NULL REFERENCES operator (id) ON DELETE CASCADE,
    label       TEXT NOT NULL CHECK (length(label) BETWEEN 1 AND 80),
    created_at  TEXT NOT NULL,
    revoked_at  TEXT
) STRICT;

-- One published sample of one adapter.
CREATE TABLE unit (
    id           INTEGER PRIMARY KEY,
    slug         TEXT NOT NULL UNIQUE CHECK (length(slug) BETWEEN 1 AND 200),
    -- maker, model and sample folded (bench::record::Unit::identity_key): never two units of one identity
    identity_key TEXT NOT NULL UNIQUE,
    -- maker and model folded: finds "already tested?"
    model_key    TEXT NOT NULL,
    created_at   TEXT NOT NULL
) STRICT;

CREATE INDEX unit_by_model ON unit (model_key);

-- Every published state of a unit's record, never changed once written.
CREATE TABLE revision (
    id         INTEGER PRIMARY KEY,
    unit_id    INTEGER NOT NULL REFERENCES unit (id) ON DELETE CASCADE,
    number     INTEGER NOT NULL CHECK (number >= 1),
    -- the document byte for byte as it was entered
    record     TEXT NOT NULL CHECK (json_valid(record)),
    author     TEXT NOT NULL,
    reason     TEXT NOT NULL,
    created_at TEXT NOT NULL,
    UNIQUE (unit_id, number)
) STRICT;

-- What an engine said of a revision. Re-scoring adds a row and keeps the old one.
CREATE TABLE evaluation (
    id            INTEGER PRIMARY KEY,
    revision_id   INTEGER NOT NULL REFERENCES revision (id) ON DELETE CASCADE,
    engine        TEXT NOT NULL,
    score_version INTEGER NOT NULL,
    -- digest of everything besides the record that the result depends on (limits, formula, classes, score line)
    method_digest TEXT NOT NULL,
    score         REAL,
    document      TEXT NOT NULL CHECK (json_valid(document)),
    created_at    TEXT NOT NULL,
    UNIQUE (revision_id, engine, score_version, method_digest)
) STRICT;

-- One row a unit: what pages sort and filter by, from its newest revision and evaluation.
CREATE TABLE ranking (
    unit_id       INTEGER PRIMARY KEY REFERENCES unit (id) ON DELETE CASCADE,
    revision_id   INTEGER NOT NULL REFERENCES revision (id) ON DELETE CASCADE,
    evaluation_id INTEGER NOT NULL REFERENCES evaluation (id) ON DELETE CASCADE,
    published_at  TEXT NOT NULL,
    revised_at    TEXT NOT NULL,
    -- ranking::Row as JSON: derived, read whole into memory, never searched by SQL
    row           TEXT NOT NULL CHECK (json_valid(row))
) STRICT;

CREATE INDEX ranking_by_revision ON ranking (revision_id);
CREATE INDEX ranking_by_evaluation ON ranking (evaluation_id);

-- A bench form as it stands, valid or not: text of every field by its path. Saved while typing.
CREATE TABLE draft (
    -- never given twice, so that a forgotten tab cannot write into another draft
    id          INTEGER PRIMARY KEY AUTOINCREMENT,
    operator_id INTEGER NOT NULL REFERENCES operator (id) ON DELETE CASCADE,
    -- the published unit that this draft will revise, if any
    unit_id     INTEGER REFERENCES unit (id) ON DELETE CASCADE,
    fields      TEXT NOT NULL CHECK (json_valid(fields)),
    -- counts saves, so that an older tab cannot overwrite a newer one unseen
    version     INTEGER NOT NULL DEFAULT 1 CHECK (version >= 1),
    -- the opened page that saved last, and its count of saves: it may save again without having heard of its last save
    editor      TEXT NOT NULL,
    editor_save INTEGER NOT NULL,
    created_at  TEXT NOT NULL,
    updated_at  TEXT NOT NULL
) STRICT;

CREATE INDEX draft_by_operator ON draft (operator_id, updated_at);

-- Which unit a draft became, so that publishing it twice leads to the same place.
CREATE TABLE published_draft (
    draft_id     INTEGER PRIMARY KEY,
    operator_id  INTEGER NOT NULL REFERENCES operator (id) ON DELETE CASCADE,
    unit_id      INTEGER NOT NULL REFERENCES unit (id) ON DELETE CASCADE,
    published_at TEXT NOT NULL
) STRICT;

CREATE INDEX published_draft_by_unit ON published_draft (unit_id);
CREATE INDEX published_draft_by_operator ON published_draft (operator_id);

-- Unlisted links to a draft's preview.
CREATE TABLE preview_link (
    id         INTEGER PRIMARY KEY,
    -- the token itself, so that the desk can show the link again; it gives read access to one draft only
    token      TEXT NOT NULL UNIQUE CHECK (length(token) >= 22),
    draft_id   INTEGER NOT NULL REFERENCES draft (id) ON DELETE CASCADE,
    created_at TEXT NOT NULL,
    revoked_at TEXT
) STRICT;

CREATE INDEX preview_link_by_draft ON preview_link (draft_id);

-- Small facts about this installation: 'demo' (data is invented), 'score_line'.
CREATE TABLE setting (
    key   TEXT PRIMARY KEY,
    value TEXT NOT NULL
) STRICT;

-- Counts changes that public pages depend on, so that caches in any process know when they are stale.
CREATE TABLE public_change (
    only_row INTEGER PRIMARY KEY CHECK (only_row = 1),
    count    INTEGER NOT NULL
) STRICT;

INSERT INTO public_change (only_row, count) VALUES (1, 0);

CREATE TRIGGER ranking_inserted AFTER INSERT ON ranking
BEGIN UPDATE public_change SET count = count + 1; END;

CREATE TRIGGER ranking_updated AFTER UPDATE ON ranking
BEGIN UPDATE public_change SET count = count + 1; END;

CREATE TRIGGER ranking_deleted AFTER DELETE ON ranking
BEGIN UPDATE public_change SET count = count + 1; END;
