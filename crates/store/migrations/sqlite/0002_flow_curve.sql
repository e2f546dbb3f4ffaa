-- Measured flow curves of trials.

INSERT INTO record_kind (word) VALUES ('flow_curve');
