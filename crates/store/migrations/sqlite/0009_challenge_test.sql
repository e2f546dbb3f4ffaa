-- Records may be challenge tests of a formula.
INSERT INTO record_kind (word) VALUES ('challenge_test');
