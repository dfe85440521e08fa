-- Minute samples are whole multiples of 1 / per_unit, and a minute's range is stored as its distance
-- from the mean: that is mostly a small number, which takes a byte or none.
CREATE TABLE signal (
  id INTEGER PRIMARY KEY,
  name TEXT NOT NULL UNIQUE,
  per_unit INTEGER NOT NULL
);

CREATE TABLE sample (
  minute INTEGER NOT NULL,
  signal INTEGER NOT NULL REFERENCES signal (id),
  mean INTEGER NOT NULL,
  below INTEGER NOT NULL,
  above INTEGER NOT NULL,
  PRIMARY KEY (minute, signal)
) WITHOUT ROWID;

-- What a person or another program reads.
CREATE VIEW sample_value AS
SELECT
  minute * 60000 AS at_ms,
  name AS signal,
  (mean - below) * 1.0 / per_unit AS min,
  mean * 1.0 / per_unit AS mean,
  (mean + above) * 1.0 / per_unit AS max
FROM sample
JOIN signal ON signal.id = sample.signal;

CREATE TABLE event (
  id INTEGER PRIMARY KEY,
  at_ms INTEGER NOT NULL,
  about TEXT NOT NULL,
  owner TEXT NOT NULL,
  change TEXT NOT NULL,
  code TEXT NOT NULL
);
CREATE INDEX event_at ON event (at_ms);

-- A decision stands until the next one about the same load or panel.
CREATE TABLE decision (
  id INTEGER PRIMARY KEY,
  at_ms INTEGER NOT NULL,
  about TEXT NOT NULL,
  owner TEXT NOT NULL,
  code TEXT NOT NULL,
  stage INTEGER NOT NULL,
  measured REAL,
  limit_value REAL
);
CREATE INDEX decision_at ON decision (at_ms);

-- acknowledged_ms: the broker has it. confirmed_ms: the actuator has been seen to obey.
CREATE TABLE command (
  id INTEGER PRIMARY KEY,
  at_ms INTEGER NOT NULL,
  about TEXT NOT NULL,
  owner TEXT NOT NULL,
  stage INTEGER NOT NULL,
  acknowledged_ms INTEGER,
  confirmed_ms INTEGER
);
CREATE INDEX command_at ON command (at_ms);
CREATE INDEX command_owner ON command (about, owner);

-- What people asked for.
CREATE TABLE override (
  id INTEGER PRIMARY KEY,
  at_ms INTEGER NOT NULL,
  about TEXT NOT NULL,
  owner TEXT NOT NULL,
  request TEXT NOT NULL
);
CREATE INDEX override_at ON override (at_ms);

-- The last memory of each local day, with all that was learned: packed JSON.
CREATE TABLE memory (
  local_day INTEGER PRIMARY KEY,
  at_ms INTEGER NOT NULL,
  code_version TEXT NOT NULL,
  body BLOB NOT NULL
);

CREATE TABLE settings (
  hash TEXT PRIMARY KEY,
  body TEXT NOT NULL
) WITHOUT ROWID;

CREATE TABLE day (
  local_day INTEGER NOT NULL,
  settings_hash TEXT NOT NULL,
  code_version TEXT NOT NULL,
  first_ms INTEGER NOT NULL,
  PRIMARY KEY (local_day, settings_hash, code_version)
) WITHOUT ROWID;

-- What the history itself knows that it misses.
CREATE TABLE gap (
  id INTEGER PRIMARY KEY,
  from_ms INTEGER NOT NULL,
  to_ms INTEGER NOT NULL,
  dropped INTEGER NOT NULL,
  reason TEXT NOT NULL
);
