-- Designed experiments, the batches made for them, and what was read of their runs.

INSERT INTO record_kind (word) VALUES ('experiment'), ('experiment_batch'), ('experiment_reading');
