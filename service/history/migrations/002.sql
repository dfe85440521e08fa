-- Texts, such as the charge stage. Each stands until the next of its name, and is written anew at
-- the beginning of a day and of a run. Empty: not known.
CREATE TABLE word (
  id INTEGER PRIMARY KEY,
  at_ms INTEGER NOT NULL,
  name TEXT NOT NULL,
  text TEXT NOT NULL
);
CREATE INDEX word_at ON word (at_ms);

-- Figures of a local day that is over, as JSON, so that a year is looked at without its minutes.
CREATE TABLE day_figures (
  local_day INTEGER PRIMARY KEY,
  at_ms INTEGER NOT NULL,
  body TEXT NOT NULL
);
