-- A preview link outlives the draft that was published, so that it can lead on to the unit.
-- Draft ids are never given twice, and discarding a draft takes its links away.
CREATE TABLE preview_link_kept (
    id         INTEGER PRIMARY KEY,
    -- the token itself, so that the desk can show the link again; it gives read access to one draft only
    token      TEXT NOT NULL UNIQUE CHECK (length(token) >= 22),
    draft_id   INTEGER NOT NULL,
    created_at TEXT NOT NULL,
    revoked_at TEXT
) STRICT;

INSERT INTO preview_link_kept (id, token, draft_id, created_at, revoked_at)
SELECT id, token, draft_id, created_at, revoked_at FROM preview_link;

DROP TABLE preview_link;

ALTER TABLE preview_link_kept RENAME TO preview_link;

CREATE INDEX preview_link_by_draft ON preview_link (draft_id);
