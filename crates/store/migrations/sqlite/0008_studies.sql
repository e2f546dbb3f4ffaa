-- Stability studies, and what was read at their pulls.

INSERT INTO record_kind (word) VALUES ('study'), ('study_reading');
