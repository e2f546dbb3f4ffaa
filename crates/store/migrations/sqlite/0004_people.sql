-- People who log in, and how it is known who wrote a record. What was written before there were logins is initialled.

INSERT INTO record_kind (word) VALUES ('person');

ALTER TABLE record ADD COLUMN how TEXT NOT NULL DEFAULT 'initialled' CHECK (how IN ('initialled', 'authenticated'));

-- The hash of a person's password. It belongs to a record, which holds its SHA-256, and is in no export.
CREATE TABLE secret (
    record TEXT NOT NULL PRIMARY KEY REFERENCES record (id),
    text TEXT NOT NULL CHECK (length(text) BETWEEN 1 AND 400)
) STRICT, WITHOUT ROWID;

CREATE TRIGGER secret_update BEFORE UPDATE ON secret
BEGIN SELECT RAISE(ABORT, 'a secret is never changed'); END;
CREATE TRIGGER secret_delete BEFORE DELETE ON secret
BEGIN SELECT RAISE(ABORT, 'a secret is never deleted'); END;
CREATE TRIGGER secret_insert BEFORE INSERT ON secret
WHEN EXISTS (SELECT 1 FROM secret WHERE record = NEW.record)
BEGIN SELECT RAISE(ABORT, 'a record has one secret'); END;
