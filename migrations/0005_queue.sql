-- What is to be tested: candidates in an order of their own, each with its way through the states,
-- and what readers suggest. Nothing is kept about who suggested.

CREATE TABLE candidate (
    id             INTEGER PRIMARY KEY AUTOINCREMENT,
    -- names it in the calendars of whoever subscribed; never changes
    uid            TEXT NOT NULL UNIQUE CHECK (length(uid) >= 16),
    maker          TEXT NOT NULL CHECK (length(maker) BETWEEN 1 AND 80),
    model          TEXT NOT NULL CHECK (length(model) BETWEEN 1 AND 80),
    state          TEXT NOT NULL CHECK (state IN
        ('wanted', 'ordered', 'here', 'on-the-bench', 'measured', 'published', 'skipped')),
    -- the smaller comes first
    place          INTEGER NOT NULL,
    link           TEXT CHECK (length(link) BETWEEN 8 AND 2000),
    -- decimal text, so that 59.00 stays 59.00
    price_amount   TEXT CHECK (length(price_amount) BETWEEN 1 AND 20),
    price_currency TEXT CHECK (length(price_currency) = 3),
    -- ISO 8601 date on which the result is meant to appear
    planned_on     TEXT CHECK (length(planned_on) = 10),
    -- shown on the public calendar
    public         INTEGER NOT NULL CHECK (public IN (0, 1)),
    -- for the desk alone
    note           TEXT NOT NULL CHECK (length(note) <= 2000),
    -- what is known of the label, as fields of the bench form: JSON object of texts by path
    label          TEXT NOT NULL CHECK (json_valid(label)),
    draft_id       INTEGER UNIQUE REFERENCES draft (id) ON DELETE SET NULL,
    unit_id        INTEGER REFERENCES unit (id) ON DELETE SET NULL,
    -- counts changes, as calendars want it
    sequence       INTEGER NOT NULL DEFAULT 0 CHECK (sequence >= 0),
    created_at     TEXT NOT NULL,
    updated_at     TEXT NOT NULL,
    CHECK ((price_amount IS NULL) = (price_currency IS NULL))
) STRICT;

CREATE INDEX candidate_by_place ON candidate (place);
CREATE INDEX candidate_by_unit ON candidate (unit_id);

-- Every state that a candidate came into.
CREATE TABLE candidate_step (
    id           INTEGER PRIMARY KEY,
    candidate_id INTEGER NOT NULL REFERENCES candidate (id) ON DELETE CASCADE,
    state        TEXT NOT NULL,
    -- name of the operator
    author       TEXT NOT NULL,
    created_at   TEXT NOT NULL
) STRICT;

CREATE INDEX candidate_step_by_candidate ON candidate_step (candidate_id);

CREATE TABLE suggestion (
    id           INTEGER PRIMARY KEY AUTOINCREMENT,
    maker        TEXT NOT NULL CHECK (length(maker) BETWEEN 1 AND 80),
    model        TEXT NOT NULL CHECK (length(model) BETWEEN 1 AND 80),
    link         TEXT CHECK (length(link) BETWEEN 8 AND 2000),
    why          TEXT NOT NULL CHECK (length(why) <= 500),
    -- how many readers suggested it
    times        INTEGER NOT NULL DEFAULT 1 CHECK (times >= 1),
    state        TEXT NOT NULL DEFAULT 'new' CHECK (state IN ('new', 'accepted', 'declined')),
    -- what it became
    candidate_id INTEGER REFERENCES candidate (id) ON DELETE SET NULL,
    created_at   TEXT NOT NULL,
    decided_at   TEXT
) STRICT;

CREATE INDEX suggestion_by_state ON suggestion (state, id);
CREATE INDEX suggestion_by_candidate ON suggestion (candidate_id);

-- Public pages show the queue as far as it is public.

CREATE TRIGGER candidate_inserted AFTER INSERT ON candidate WHEN NEW.public = 1
BEGIN UPDATE public_change SET count = count + 1; END;

CREATE TRIGGER candidate_updated AFTER UPDATE ON candidate WHEN OLD.public = 1 OR NEW.public = 1
BEGIN UPDATE public_change SET count = count + 1; END;

CREATE TRIGGER candidate_deleted AFTER DELETE ON candidate WHEN OLD.public = 1
BEGIN UPDATE public_change SET count = count + 1; END;

-- Names this installation in its feeds, whatever address it is reached by; and since when.
INSERT INTO setting (key, value) VALUES ('feed_id', lower(hex(randomblob(16))));
INSERT INTO setting (key, value) VALUES ('feed_began', strftime('%Y-%m-%dT%H:%M:%SZ', 'now'));
