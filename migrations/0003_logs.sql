-- Raw instrument logs. Their bytes lie beside the database, content-addressed and compressed
-- (`logs/ab/ab….zst`); these tables say what is there and who refers to it.

CREATE TABLE log_file (
    -- of the bytes as the instrument wrote them, lower-case hexadecimal
    sha256       TEXT PRIMARY KEY CHECK (length(sha256) = 64),
    -- as it was called when it came in
    name         TEXT NOT NULL CHECK (length(name) BETWEEN 1 AND 200),
    size_bytes   INTEGER NOT NULL CHECK (size_bytes >= 0),
    stored_bytes INTEGER NOT NULL CHECK (stored_bytes >= 0),
    -- how it is read (bench::record::Layout); null until somebody or something knew
    layout       TEXT CHECK (layout IS NULL OR json_valid(layout)),
    -- what reading it by that layout gave (intake::logs::Summary); null if it could not be read
    summary      TEXT CHECK (summary IS NULL OR json_valid(summary)),
    -- why it could not be read
    fault        TEXT,
    -- whoever brought it in; null for the command line
    operator_id  INTEGER REFERENCES operator (id) ON DELETE SET NULL,
    created_at   TEXT NOT NULL
) STRICT;

CREATE INDEX log_file_by_time ON log_file (created_at);
CREATE INDEX log_file_by_operator ON log_file (operator_id);

-- How the logs of one instrument are read, under a name, for the next one of its kind.
CREATE TABLE log_layout (
    name       TEXT PRIMARY KEY COLLATE NOCASE CHECK (length(name) BETWEEN 1 AND 80),
    layout     TEXT NOT NULL CHECK (json_valid(layout)),
    -- headings of the columns as a JSON array: a log with the same ones is read in the same way
    headings   TEXT NOT NULL CHECK (json_valid(headings)),
    updated_at TEXT NOT NULL
) STRICT;

-- Which logs a published revision names; only these are public.
CREATE TABLE revision_log (
    revision_id INTEGER NOT NULL REFERENCES revision (id) ON DELETE CASCADE,
    sha256      TEXT NOT NULL CHECK (length(sha256) = 64),
    name        TEXT NOT NULL,
    PRIMARY KEY (revision_id, name)
) STRICT, WITHOUT ROWID;

CREATE INDEX revision_log_by_sha256 ON revision_log (sha256);
