-- The tables of a ledger, by the version that brought them. Both databases read every statement. A version that was released
-- is never changed.

CREATE TABLE visits (
  visit TEXT PRIMARY KEY, board TEXT NOT NULL, lot TEXT NOT NULL, design TEXT NOT NULL, revision TEXT NOT NULL,
  tool TEXT NOT NULL, station TEXT NOT NULL, operator TEXT NOT NULL, at TEXT NOT NULL, recorded TEXT NOT NULL,
  verdict TEXT NOT NULL, error TEXT NOT NULL, cause TEXT NOT NULL, cause_parts TEXT NOT NULL, probability DOUBLE PRECISION NOT NULL,
  high_time DOUBLE PRECISION, high_time_u DOUBLE PRECISION, low_time DOUBLE PRECISION, low_time_u DOUBLE PRECISION,
  period DOUBLE PRECISION, period_u DOUBLE PRECISION, frequency DOUBLE PRECISION, frequency_u DOUBLE PRECISION,
  duty_factor DOUBLE PRECISION, duty_factor_u DOUBLE PRECISION, cycles BIGINT NOT NULL);
CREATE TABLE captures (
  visit TEXT NOT NULL REFERENCES visits (visit), place BIGINT NOT NULL, name TEXT NOT NULL, sha256 TEXT NOT NULL,
  PRIMARY KEY (visit, place));
CREATE TABLE parts (
  visit TEXT NOT NULL REFERENCES visits (visit), place BIGINT NOT NULL, name TEXT NOT NULL, nominal DOUBLE PRECISION NOT NULL,
  value DOUBLE PRECISION NOT NULL, low DOUBLE PRECISION NOT NULL, high DOUBLE PRECISION NOT NULL, out_of_tolerance DOUBLE PRECISION NOT NULL,
  PRIMARY KEY (visit, place));

-- next version
ALTER TABLE visits ADD COLUMN temperature DOUBLE PRECISION;
ALTER TABLE visits ADD COLUMN supply DOUBLE PRECISION;
CREATE INDEX visits_by_board ON visits (board, at);
CREATE INDEX visits_by_lot ON visits (lot, at);
CREATE INDEX visits_by_time ON visits (at);

-- next version
-- The column record is the result whole, as JSON, and seal its SHA-256; the other columns repeat of it what is asked
-- for, or looked at by other programs.
ALTER TABLE visits ADD COLUMN place BIGINT NOT NULL DEFAULT -1;
ALTER TABLE visits ADD COLUMN design_sha256 TEXT NOT NULL DEFAULT '';
ALTER TABLE visits ADD COLUMN record TEXT NOT NULL DEFAULT '';
ALTER TABLE visits ADD COLUMN seal TEXT NOT NULL DEFAULT '';
ALTER TABLE captures ADD COLUMN station TEXT NOT NULL DEFAULT '';
ALTER TABLE captures ADD COLUMN operator TEXT NOT NULL DEFAULT '';
ALTER TABLE captures ADD COLUMN at TEXT NOT NULL DEFAULT '';
ALTER TABLE captures ADD COLUMN temperature DOUBLE PRECISION;
ALTER TABLE captures ADD COLUMN clock DOUBLE PRECISION;
ALTER TABLE captures ADD COLUMN ln_high_time DOUBLE PRECISION;
ALTER TABLE captures ADD COLUMN ln_low_time DOUBLE PRECISION;
ALTER TABLE captures ADD COLUMN ln_high_time_u DOUBLE PRECISION;
ALTER TABLE captures ADD COLUMN ln_low_time_u DOUBLE PRECISION;
ALTER TABLE captures ADD COLUMN ln_covariance DOUBLE PRECISION;
CREATE TABLE designs (sha256 TEXT PRIMARY KEY, title TEXT NOT NULL, text TEXT NOT NULL);
CREATE TABLE decisions (
  decision TEXT PRIMARY KEY, lot TEXT NOT NULL, at TEXT NOT NULL, decided_by TEXT NOT NULL, result TEXT NOT NULL,
  design_sha256 TEXT NOT NULL, tool TEXT NOT NULL, record TEXT NOT NULL);
CREATE TABLE found (
  found TEXT PRIMARY KEY, board TEXT NOT NULL, lot TEXT NOT NULL, cause TEXT NOT NULL, part TEXT NOT NULL,
  at TEXT NOT NULL, found_by TEXT NOT NULL, note TEXT NOT NULL, visit TEXT NOT NULL);
CREATE INDEX visits_in_order ON visits (at, recorded, visit);
CREATE INDEX visits_of_board ON visits (lot, board, recorded);
CREATE INDEX visits_in_lot ON visits (lot, place);
CREATE INDEX visits_by_verdict ON visits (verdict, at);
CREATE INDEX visits_by_revision ON visits (revision, at);
CREATE INDEX captures_by_digest ON captures (sha256);
CREATE INDEX decisions_by_lot ON decisions (lot, at);
CREATE INDEX found_by_board ON found (board, at);
