-- A workspace. A record is written once and never changed: triggers refuse every other statement, whatever program sends it.
-- A new kind of record is a new migration, so that an older program says that it is too old.

PRAGMA application_id = 1280722772; -- "LVGT"

CREATE TABLE record_kind (
    word TEXT NOT NULL PRIMARY KEY
) STRICT, WITHOUT ROWID;

INSERT INTO record_kind (word) VALUES
    ('formula'), ('formula_version'), ('lot'), ('trial'), ('reading'), ('observation'), ('material_overlay'), ('setting');

CREATE TABLE record (
    sequence INTEGER NOT NULL PRIMARY KEY CHECK (sequence > 0),
    id TEXT NOT NULL UNIQUE CHECK (length(id) = 36),
    kind TEXT NOT NULL REFERENCES record_kind (word),
    scope TEXT NOT NULL,
    number INTEGER NOT NULL CHECK (number > 0),
    parent_kind TEXT,
    parent TEXT,
    corrects TEXT UNIQUE,
    correction_reason TEXT,
    who TEXT NOT NULL CHECK (who <> ''),
    at TEXT NOT NULL,
    body TEXT NOT NULL CHECK (json_valid(body)),
    photo_sha256 TEXT CHECK (length(photo_sha256) = 64),
    hash TEXT NOT NULL CHECK (length(hash) = 64),
    link TEXT NOT NULL UNIQUE CHECK (length(link) = 64),
    UNIQUE (kind, scope, number),
    UNIQUE (kind, id),
    FOREIGN KEY (parent_kind, parent) REFERENCES record (kind, id),
    FOREIGN KEY (kind, corrects) REFERENCES record (kind, id),
    CHECK ((parent IS NULL) = (parent_kind IS NULL)),
    CHECK ((corrects IS NULL) = (correction_reason IS NULL))
) STRICT;

CREATE TABLE photo (
    record TEXT NOT NULL PRIMARY KEY REFERENCES record (id),
    media TEXT NOT NULL CHECK (media IN ('image/png', 'image/jpeg', 'image/webp')),
    bytes BLOB NOT NULL CHECK (length(bytes) BETWEEN 1 AND 8388608)
) STRICT;

-- One row, taken first in every write: writers queue here, and the chain has one end.
CREATE TABLE log_head (
    id INTEGER NOT NULL PRIMARY KEY CHECK (id = 1),
    length INTEGER NOT NULL CHECK (length >= 0),
    link TEXT NOT NULL CHECK (length(link) = 64)
) STRICT;

INSERT INTO log_head (id, length, link)
VALUES (1, 0, '0000000000000000000000000000000000000000000000000000000000000000');

-- What is being typed. The empty formula stands for a sheet that is not yet one.
CREATE TABLE draft (
    formula TEXT NOT NULL,
    tab TEXT NOT NULL CHECK (tab <> ''),
    edit INTEGER NOT NULL,
    based_on INTEGER NOT NULL,
    text TEXT NOT NULL,
    who TEXT NOT NULL,
    at TEXT NOT NULL,
    PRIMARY KEY (formula, tab)
) STRICT, WITHOUT ROWID;

CREATE TRIGGER record_update BEFORE UPDATE ON record
BEGIN SELECT RAISE(ABORT, 'a record is never changed'); END;
CREATE TRIGGER record_delete BEFORE DELETE ON record
BEGIN SELECT RAISE(ABORT, 'a record is never deleted'); END;
-- INSERT OR REPLACE deletes without asking the trigger above, so every way to collide is refused here.
CREATE TRIGGER record_insert BEFORE INSERT ON record
WHEN NEW.sequence <> (SELECT coalesce(max(sequence), 0) + 1 FROM record)
    OR EXISTS (SELECT 1 FROM record WHERE id = NEW.id)
    OR EXISTS (SELECT 1 FROM record WHERE link = NEW.link)
    OR EXISTS (SELECT 1 FROM record WHERE corrects = NEW.corrects)
    OR EXISTS (SELECT 1 FROM record WHERE kind = NEW.kind AND scope = NEW.scope AND number = NEW.number)
BEGIN SELECT RAISE(ABORT, 'a record is only ever added behind the last'); END;

CREATE TRIGGER photo_update BEFORE UPDATE ON photo
BEGIN SELECT RAISE(ABORT, 'a photo is never changed'); END;
CREATE TRIGGER photo_delete BEFORE DELETE ON photo
BEGIN SELECT RAISE(ABORT, 'a photo is never deleted'); END;
CREATE TRIGGER photo_insert BEFORE INSERT ON photo
WHEN EXISTS (SELECT 1 FROM photo WHERE record = NEW.record)
BEGIN SELECT RAISE(ABORT, 'a record has one photo'); END;

CREATE TRIGGER record_kind_update BEFORE UPDATE ON record_kind
BEGIN SELECT RAISE(ABORT, 'a kind of record is never changed'); END;
CREATE TRIGGER record_kind_delete BEFORE DELETE ON record_kind
BEGIN SELECT RAISE(ABORT, 'a kind of record is never deleted'); END;

CREATE TRIGGER log_head_update BEFORE UPDATE ON log_head WHEN NEW.length < OLD.length OR NEW.id <> OLD.id
BEGIN SELECT RAISE(ABORT, 'the log never grows shorter'); END;
CREATE TRIGGER log_head_delete BEFORE DELETE ON log_head
BEGIN SELECT RAISE(ABORT, 'the log has one head'); END;
CREATE TRIGGER log_head_insert BEFORE INSERT ON log_head
BEGIN SELECT RAISE(ABORT, 'the log has one head'); END;
