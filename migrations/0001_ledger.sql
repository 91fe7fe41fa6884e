-- The ledger: the truth. Forward only; never edited after release.
--
-- Triggers are a seat belt: they keep this program and careless tools from changing what was
-- written. The hash chain is the lock, and the head outside the file guards the tail.

CREATE TABLE book (
    -- What this file is: one row.
    only            INTEGER PRIMARY KEY CHECK (only = 1),
    site            TEXT NOT NULL,
    epoch           INTEGER NOT NULL CHECK (epoch >= 1),
    units           TEXT NOT NULL CHECK (units IN ('us', 'metric')),
    created_ms      INTEGER NOT NULL
) STRICT;

CREATE TABLE entry (
    -- Order of arrival in this book.
    position        INTEGER PRIMARY KEY,
    site            TEXT NOT NULL,
    epoch           INTEGER NOT NULL CHECK (epoch >= 1),
    number          INTEGER NOT NULL CHECK (number >= 1),
    kind            TEXT NOT NULL,
    -- When it happened, as written: a day or a clock time.
    effective       TEXT NOT NULL,
    -- When it was written: milliseconds of UTC, and the clock offset of the place in minutes.
    recorded_ms     INTEGER NOT NULL,
    recorded_offset INTEGER NOT NULL CHECK (recorded_offset BETWEEN -1439 AND 1439),
    author          TEXT NOT NULL,
    program         TEXT NOT NULL,
    -- What it rests on: canonical JSON or null.
    evidence        TEXT,
    -- The fact: canonical JSON.
    body            TEXT NOT NULL,
    -- Version of the canonical encoding that the hash was taken over.
    encoding        INTEGER NOT NULL,
    prev            BLOB NOT NULL CHECK (length(prev) = 32),
    hash            BLOB NOT NULL CHECK (length(hash) = 32),
    UNIQUE (site, epoch, number)
) STRICT;

CREATE TRIGGER entry_is_never_changed BEFORE UPDATE ON entry
BEGIN
    SELECT RAISE(ABORT, 'an entry is never changed: strike it and write another');
END;

CREATE TRIGGER entry_is_never_deleted BEFORE DELETE ON entry
BEGIN
    SELECT RAISE(ABORT, 'an entry is never deleted: strike it');
END;

-- Also stops INSERT OR REPLACE, which deletes without asking the trigger above.
CREATE TRIGGER entry_is_the_next_one BEFORE INSERT ON entry
WHEN NEW.position IS NOT (SELECT coalesce(max(position), 0) + 1 FROM entry)
BEGIN
    SELECT RAISE(ABORT, 'an entry goes at the end of the book');
END;

CREATE INDEX entry_kind ON entry (kind, position);
