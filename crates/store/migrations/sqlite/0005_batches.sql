-- Batches with what was done on them, and what becomes of lots on the shelf.

INSERT INTO record_kind (word) VALUES
    ('batch'), ('batch_entry'), ('sign_off'), ('retained_sample'), ('lot_status'), ('stock_movement');

-- The records of a kind, newest first, and those that belong to another.
CREATE INDEX record_in_kind ON record (kind, sequence);
CREATE INDEX record_child ON record (parent, kind, sequence);

-- Which lot is in which batch. Every row follows from the record of its entry and is written with it; the check of the records
-- derives it anew and holds both side by side.
CREATE TABLE lot_use (
    entry TEXT NOT NULL REFERENCES record (id),
    lot TEXT NOT NULL CHECK (lot <> ''),
    batch TEXT NOT NULL REFERENCES record (id),
    micrograms INTEGER NOT NULL CHECK (micrograms >= 0),
    PRIMARY KEY (entry, lot)
) STRICT;

CREATE INDEX lot_use_lot ON lot_use (lot, batch, entry);
CREATE INDEX lot_use_batch ON lot_use (batch, lot, entry);

CREATE TRIGGER lot_use_update BEFORE UPDATE ON lot_use
BEGIN SELECT RAISE(ABORT, 'a use of a lot is never changed'); END;
CREATE TRIGGER lot_use_delete BEFORE DELETE ON lot_use
BEGIN SELECT RAISE(ABORT, 'a use of a lot is never deleted'); END;
CREATE TRIGGER lot_use_insert BEFORE INSERT ON lot_use
WHEN EXISTS (SELECT 1 FROM lot_use WHERE entry = NEW.entry AND lot = NEW.lot)
BEGIN SELECT RAISE(ABORT, 'a use of a lot is only ever added'); END;
