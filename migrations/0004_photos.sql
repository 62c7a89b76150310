-- Photos, as they are kept: plain JPEGs without metadata, named by the SHA-256 of their bytes. They
-- lie in the database, so that whoever copies it has them; each is some hundred kilobytes.
CREATE TABLE photo (
    -- of the kept bytes, lower-case hexadecimal
    sha256      TEXT PRIMARY KEY CHECK (length(sha256) = 64),
    width_px    INTEGER NOT NULL CHECK (width_px BETWEEN 1 AND 2048),
    height_px   INTEGER NOT NULL CHECK (height_px BETWEEN 1 AND 2048),
    -- as its file was called when it came in
    name        TEXT NOT NULL CHECK (length(name) BETWEEN 1 AND 200),
    -- whoever brought it in; null for the command line
    operator_id INTEGER REFERENCES operator (id) ON DELETE SET NULL,
    created_at  TEXT NOT NULL,
    thumbnail   BLOB NOT NULL CHECK (length(thumbnail) BETWEEN 1 AND 1000000),
    -- last, so that what stands before is read without it
    jpeg        BLOB NOT NULL CHECK (length(jpeg) BETWEEN 1 AND 20000000)
) STRICT;

CREATE INDEX photo_by_time ON photo (created_at);
CREATE INDEX photo_by_operator ON photo (operator_id);

-- Which photos a published revision names, in the order of the page; only these are public. A photo
-- that is not at hand may still come in.
CREATE TABLE revision_photo (
    revision_id INTEGER NOT NULL REFERENCES revision (id) ON DELETE CASCADE,
    position    INTEGER NOT NULL CHECK (position >= 0),
    sha256      TEXT NOT NULL CHECK (length(sha256) = 64),
    PRIMARY KEY (revision_id, position)
) STRICT, WITHOUT ROWID;

CREATE INDEX revision_photo_by_sha256 ON revision_photo (sha256);

-- A photo that comes in after the revision that names it changes that revision's page.
CREATE TRIGGER photo_inserted AFTER INSERT ON photo
WHEN EXISTS (SELECT 1 FROM revision_photo WHERE sha256 = NEW.sha256)
BEGIN UPDATE public_change SET count = count + 1; END;
