-- Who may do what, and a log of every change of data or rights that only grows.

-- Whoever was entered first owns the installation. The others keep what they could do so far:
-- entering and publishing, with tokens of their own.
ALTER TABLE operator ADD COLUMN role TEXT NOT NULL DEFAULT 'editor' CHECK (role IN ('owner', 'editor', 'reader'));
-- May not sign in any more; the name stays beside what was published under it
ALTER TABLE operator ADD COLUMN deactivated_at TEXT;

UPDATE operator SET role = 'owner' WHERE id = (SELECT min(id) FROM operator);

-- Somebody must always be able to give rights.
CREATE TRIGGER operator_last_owner_stays BEFORE UPDATE OF role, deactivated_at ON operator
WHEN OLD.role = 'owner' AND OLD.deactivated_at IS NULL
    AND (NEW.role <> 'owner' OR NEW.deactivated_at IS NOT NULL)
    AND NOT EXISTS (SELECT 1 FROM operator
                    WHERE id <> OLD.id AND role = 'owner' AND deactivated_at IS NULL)
BEGIN SELECT RAISE(ABORT, 'the last owner stays'); END;

CREATE TRIGGER operator_last_owner_is_not_deleted BEFORE DELETE ON operator
WHEN OLD.role = 'owner' AND OLD.deactivated_at IS NULL
    AND NOT EXISTS (SELECT 1 FROM operator
                    WHERE id <> OLD.id AND role = 'owner' AND deactivated_at IS NULL)
BEGIN SELECT RAISE(ABORT, 'the last owner stays'); END;

-- Sessions have a number by which their operator ends them. Those from before the upgrade end with
-- it: everybody signs in anew under the new rights.
DROP TABLE session;

CREATE TABLE session (
    id          INTEGER PRIMARY KEY AUTOINCREMENT,
    token_hash  BLOB NOT NULL UNIQUE CHECK (length(token_hash) = 32),
    operator_id INTEGER NOT NULL REFERENCES operator (id) ON DELETE CASCADE,
    csrf_token  TEXT NOT NULL,
    created_at  TEXT NOT NULL,
    expires_at  TEXT NOT NULL,
    -- about when it was last used, and from where it was begun: for its operator to recognise it
    used_at     TEXT NOT NULL,
    address     TEXT CHECK (length(address) <= 64),
    client      TEXT NOT NULL CHECK (length(client) <= 120)
) STRICT;

CREATE INDEX session_by_expiry ON session (expires_at);
CREATE INDEX session_by_operator ON session (operator_id);

-- What a token may do, space-separated. Tokens from before the upgrade could send records, photos
-- and logs.
ALTER TABLE api_token ADD COLUMN scopes TEXT NOT NULL DEFAULT 'records evidence';
ALTER TABLE api_token ADD COLUMN expires_at TEXT;
ALTER TABLE api_token ADD COLUMN used_at TEXT;

-- One-time links by which somebody chooses a password: for a new account, or for one that exists.
CREATE TABLE invitation (
    id          INTEGER PRIMARY KEY AUTOINCREMENT,
    token_hash  BLOB NOT NULL UNIQUE CHECK (length(token_hash) = 32),
    -- the account that gets another password; without it the link makes an account
    operator_id INTEGER REFERENCES operator (id) ON DELETE CASCADE,
    name        TEXT NOT NULL COLLATE NOCASE CHECK (length(name) BETWEEN 1 AND 80),
    role        TEXT NOT NULL CHECK (role IN ('owner', 'editor', 'reader')),
    made_by     TEXT NOT NULL,
    created_at  TEXT NOT NULL,
    expires_at  TEXT NOT NULL
) STRICT;

-- Every change of data or rights, written in the transaction of the change. Holds no secret: of
-- documents only their SHA-256.
CREATE TABLE audit (
    id            INTEGER PRIMARY KEY AUTOINCREMENT,
    at            TEXT NOT NULL,
    -- no reference: what somebody did stays on record whatever becomes of the account
    operator_id   INTEGER,
    who           TEXT NOT NULL CHECK (length(who) BETWEEN 1 AND 200),
    via           TEXT NOT NULL CHECK (via IN ('desk', 'api', 'command', 'program', 'reader')),
    address       TEXT CHECK (length(address) <= 64),
    action        TEXT NOT NULL CHECK (length(action) BETWEEN 1 AND 60),
    object        TEXT NOT NULL CHECK (length(object) BETWEEN 1 AND 300),
    before_sha256 TEXT CHECK (length(before_sha256) = 64),
    after_sha256  TEXT CHECK (length(after_sha256) = 64),
    detail        TEXT NOT NULL CHECK (length(detail) <= 500)
) STRICT;

CREATE INDEX audit_by_object ON audit (object, id);
CREATE INDEX audit_by_time ON audit (at);

CREATE TRIGGER audit_is_never_changed BEFORE UPDATE ON audit
BEGIN SELECT RAISE(ABORT, 'the audit log only grows'); END;

-- REPLACE would delete without asking the trigger below.
CREATE TRIGGER audit_is_never_replaced BEFORE INSERT ON audit
WHEN EXISTS (SELECT 1 FROM audit WHERE id = NEW.id)
BEGIN SELECT RAISE(ABORT, 'the audit log only grows'); END;

-- Retention may take away what is old, never what is younger than the least retention.
CREATE TRIGGER audit_is_kept BEFORE DELETE ON audit
WHEN OLD.at > strftime('%Y-%m-%dT%H:%M:%fZ', 'now', '-90 days')
BEGIN SELECT RAISE(ABORT, 'the audit log only grows'); END;
