-- Closes two ways around the triggers of the first layout: INSERT OR REPLACE under the next position
-- but an old name, and changes of the row that says whose book this is.

CREATE TRIGGER entry_name_is_taken_once BEFORE INSERT ON entry
WHEN EXISTS (
    SELECT 1 FROM entry WHERE site = NEW.site AND epoch = NEW.epoch AND number = NEW.number
)
BEGIN
    SELECT RAISE(ABORT, 'an entry of this name is in the book already');
END;

CREATE TRIGGER book_is_written_once BEFORE INSERT ON book
WHEN EXISTS (SELECT 1 FROM book)
BEGIN
    SELECT RAISE(ABORT, 'this file is somebody''s book already');
END;

CREATE TRIGGER book_is_never_deleted BEFORE DELETE ON book
BEGIN
    SELECT RAISE(ABORT, 'a book keeps its owner');
END;

-- A book that was restored goes on under a later epoch of its site.
CREATE TRIGGER book_goes_on_by_epoch BEFORE UPDATE ON book
WHEN NEW.only IS NOT OLD.only OR NEW.site IS NOT OLD.site OR NEW.units IS NOT OLD.units
    OR NEW.epoch <= OLD.epoch
BEGIN
    SELECT RAISE(ABORT, 'a book keeps its site and units, and its epochs only rise');
END;
