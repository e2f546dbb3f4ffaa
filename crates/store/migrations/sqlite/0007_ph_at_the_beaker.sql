-- Entries of a batch may be the calibration of a pH meter or a reading of the pH. Nothing in the tables changes: with this number an
-- older program, which cannot read such entries, says that it is too old. That what a device sends is kept once has needed no index
-- of its own since the first migration: the device makes the identity of the record, and record.id is unique.
SELECT 1;
