-- Strikes and amendments of entries of other sites need a decision. Those that a book held before it
-- knew that rule stay in force in it: up to which place, this table says. It is empty in a book that
-- knew the rule from its first entry on.

CREATE TABLE struck_freely (
    only            INTEGER PRIMARY KEY CHECK (only = 1),
    -- Last place of the book that is older than the rule.
    up_to           INTEGER NOT NULL
) STRICT;

INSERT INTO struck_freely (only, up_to)
SELECT 1, position FROM entry ORDER BY position DESC LIMIT 1;

CREATE TRIGGER struck_freely_is_never_changed BEFORE UPDATE ON struck_freely
BEGIN
    SELECT RAISE(ABORT, 'since when a book knows a rule does not change');
END;

CREATE TRIGGER struck_freely_is_never_deleted BEFORE DELETE ON struck_freely
BEGIN
    SELECT RAISE(ABORT, 'since when a book knows a rule does not change');
END;

CREATE TRIGGER struck_freely_is_never_written_later BEFORE INSERT ON struck_freely
BEGIN
    SELECT RAISE(ABORT, 'since when a book knows a rule does not change');
END;
