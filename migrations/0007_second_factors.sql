-- Second factors of accounts: codes of an authenticator app with recovery codes, and passkeys.

-- Time-based one-time passwords (RFC 6238).
CREATE TABLE totp (
    operator_id  INTEGER PRIMARY KEY REFERENCES operator (id) ON DELETE CASCADE,
    secret       BLOB NOT NULL CHECK (length(secret) BETWEEN 16 AND 64),
    -- not asked for before its first code was entered
    confirmed_at TEXT,
    -- the last time step whose code was taken: none is taken twice
    last_step    INTEGER NOT NULL DEFAULT 0
) STRICT;

CREATE TABLE recovery_code (
    id          INTEGER PRIMARY KEY,
    operator_id INTEGER NOT NULL REFERENCES operator (id) ON DELETE CASCADE,
    code_hash   BLOB NOT NULL CHECK (length(code_hash) = 32),
    used_at     TEXT,
    UNIQUE (operator_id, code_hash)
) STRICT;

-- What authenticators know an account by, whatever its name.
CREATE TABLE passkey_user (
    operator_id INTEGER PRIMARY KEY REFERENCES operator (id) ON DELETE CASCADE,
    handle      BLOB NOT NULL UNIQUE CHECK (length(handle) = 16)
) STRICT;

-- Passkeys (WebAuthn): each opens its account by itself. Only public keys are here.
CREATE TABLE passkey (
    id            INTEGER PRIMARY KEY,
    operator_id   INTEGER NOT NULL REFERENCES operator (id) ON DELETE CASCADE,
    credential_id BLOB NOT NULL UNIQUE CHECK (length(credential_id) BETWEEN 1 AND 1023),
    -- public key, counter and the like, as JSON
    credential    TEXT NOT NULL CHECK (json_valid(credential)),
    -- what its owner calls it
    name          TEXT NOT NULL CHECK (length(name) BETWEEN 1 AND 80),
    created_at    TEXT NOT NULL,
    last_used_at  TEXT
) STRICT;

CREATE INDEX passkey_of_operator ON passkey (operator_id);
