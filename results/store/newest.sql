-- What migrations 0001 and following make, written by go test ./results/store -run NewestIs -update: version 39
-- = table migration
CREATE TABLE migration (
  version    INTEGER PRIMARY KEY,
  name       TEXT    NOT NULL,
  applied_us INTEGER NOT NULL,
  software   TEXT    NOT NULL,
  sqlite     TEXT    NOT NULL
) STRICT;
-- = table revision
CREATE TABLE revision (
  revision   INTEGER PRIMARY KEY,
  hash       TEXT NOT NULL,           -- SHA-256 of the product's meaning, hexadecimal
  code       TEXT NOT NULL,
  title      TEXT NOT NULL,
  label      TEXT NOT NULL,           -- the engineer's name of the revision
  definition TEXT NOT NULL CHECK (json_valid(definition)),
  UNIQUE (hash, code, title, label)
) STRICT;
-- = table key
CREATE TABLE key (
  key      INTEGER PRIMARY KEY,
  revision INTEGER NOT NULL REFERENCES revision,
  label    TEXT    NOT NULL,
  line_a   TEXT    NOT NULL,
  line_b   TEXT    NOT NULL,
  UNIQUE (revision, label, line_a, line_b)
) STRICT;
-- = table pin
CREATE TABLE pin (
  pin      INTEGER PRIMARY KEY,
  revision INTEGER NOT NULL REFERENCES revision,
  number   INTEGER NOT NULL,          -- tail pin, from 1
  line     TEXT    NOT NULL,          -- empty for an unused pin
  UNIQUE (revision, number, line)
) STRICT;
-- = table step
CREATE TABLE step (
  step INTEGER PRIMARY KEY,
  name TEXT NOT NULL UNIQUE
) STRICT;
-- = table jig
CREATE TABLE jig (
  jig      INTEGER PRIMARY KEY,
  serial   TEXT NOT NULL,
  model    TEXT NOT NULL,
  firmware TEXT NOT NULL,
  adapter  TEXT NOT NULL,
  UNIQUE (serial, model, firmware, adapter)
) STRICT;
-- = table station
CREATE TABLE station (
  station  INTEGER PRIMARY KEY,
  host     TEXT NOT NULL,
  software TEXT NOT NULL,             -- version of padjig
  boot_id  TEXT NOT NULL,             -- changes with each start of the computer; empty if unknown
  UNIQUE (host, software, boot_id)
) STRICT;
-- = table run
CREATE TABLE run (
  seq          INTEGER PRIMARY KEY,   -- 1, 2, 3 ... without a gap: the order of runs
  id           BLOB    NOT NULL UNIQUE CHECK (length(id) = 16),  -- UUIDv7
  serial       TEXT    NOT NULL CHECK (serial <> ''),
  revision     INTEGER NOT NULL REFERENCES revision,
  jig          INTEGER NOT NULL REFERENCES jig,
  station      INTEGER NOT NULL REFERENCES station,
  simulated    INTEGER NOT NULL CHECK (simulated IN (0, 1)),
  actuation    TEXT    NOT NULL CHECK (actuation IN ('mechanical', 'electrical', 'hand', '')),
  operator     TEXT    NOT NULL,
  attempt      INTEGER NOT NULL CHECK (attempt >= 1),
  started_us   INTEGER NOT NULL,
  duration_us  INTEGER NOT NULL CHECK (duration_us >= 0),
  outcome      TEXT    NOT NULL CHECK (outcome IN ('pass', 'fail', 'reseat', 'incomplete', 'aborted', 'harness good', 'nothing found')),
  reason       TEXT    NOT NULL,
  saved_us     INTEGER NOT NULL,
  mono_ns      INTEGER,               -- since the start of the computer, at saving
  clock_synced INTEGER CHECK (clock_synced IN (0, 1)),
  steps        INTEGER NOT NULL,      -- how many rows of each kind belong to the run
  seats        INTEGER NOT NULL,
  keys         INTEGER NOT NULL,
  pairs        INTEGER NOT NULL,
  findings     INTEGER NOT NULL,
  hash         BLOB    NOT NULL CHECK (length(hash) = 32)  -- SHA-256 of the canonical record
, purpose TEXT NOT NULL DEFAULT ''
  CHECK (purpose IN ('', 'first press', 'return test', 'exercise', 'gauge study', 'engineering')), return_case INTEGER REFERENCES return_case
  CHECK ((purpose IN ('', 'gauge study', 'engineering')) = (return_case IS NULL)), exercised INTEGER NOT NULL DEFAULT 0, start INTEGER REFERENCES run_start, verdict TEXT
  AS (CASE WHEN outcome = 'pass' AND actuation = 'electrical' THEN 'harness good' ELSE outcome END) VIRTUAL, ended TEXT CHECK (json_type(ended) = 'array'), proofs TEXT CHECK (json_type(proofs) = 'object'), insulation INTEGER NOT NULL DEFAULT 0) STRICT;
-- = table run_step
CREATE TABLE run_step (
  run     INTEGER NOT NULL REFERENCES run DEFERRABLE INITIALLY DEFERRED,
  place   INTEGER NOT NULL,           -- order in the run, from 0
  step    INTEGER NOT NULL REFERENCES step,
  done    INTEGER NOT NULL CHECK (done IN (0, 1)),
  took_us INTEGER NOT NULL,
  PRIMARY KEY (run, place)
) STRICT, WITHOUT ROWID;
-- = table run_seat
CREATE TABLE run_seat (
  run           INTEGER NOT NULL REFERENCES run DEFERRABLE INITIALLY DEFERRED,
  place         INTEGER NOT NULL,
  pin           INTEGER NOT NULL REFERENCES pin,
  good          INTEGER NOT NULL CHECK (good IN (0, 1)),
  loop_mohm     INTEGER,              -- NULL: open
  loop_u_mohm   INTEGER CHECK (loop_u_mohm >= 0),  -- NULL: unknown
  loop_at_least INTEGER NOT NULL CHECK (loop_at_least IN (0, 1)), loop_rest_uohm INTEGER CHECK (loop_rest_uohm IS NULL
  OR loop_rest_uohm BETWEEN -500 AND 500 AND loop_rest_uohm <> 0 AND loop_mohm IS NOT NULL), loop_u_rest_uohm INTEGER CHECK (loop_u_rest_uohm IS NULL
  OR loop_u_rest_uohm BETWEEN -999 AND 500 AND loop_u_rest_uohm <> 0 AND coalesce(loop_u_mohm, 0) > 0), loop_ohm REAL AS ((loop_mohm * 1000 + coalesce(loop_rest_uohm, 0)) / 1e6), loop_u_ohm REAL AS ((loop_u_mohm * 1000 + coalesce(loop_u_rest_uohm, 0)) / 1e6),
  PRIMARY KEY (run, place),
  CHECK (loop_mohm IS NOT NULL OR loop_at_least = 1)
) STRICT, WITHOUT ROWID;
-- = table run_key
CREATE TABLE run_key (
  run             INTEGER NOT NULL REFERENCES run DEFERRABLE INITIALLY DEFERRED,
  place           INTEGER NOT NULL,
  key             INTEGER NOT NULL REFERENCES key,
  passed          INTEGER CHECK (passed IN (0, 1)),          -- NULL: untested
  closed_mohm     INTEGER,                                   -- NULL beside closed_at_least 1: open
  closed_u_mohm   INTEGER CHECK (closed_u_mohm >= 0),        -- NULL beside a reading: unknown
  closed_at_least INTEGER CHECK (closed_at_least IN (0, 1)), -- 1: beyond the range; NULL: not measured
  make_us         INTEGER CHECK (make_us >= 0),
  make_count      INTEGER CHECK (make_count >= 0),
  break_us        INTEGER CHECK (break_us >= 0),
  break_count     INTEGER CHECK (break_count >= 0),
  forward_uv      INTEGER,
  forward_u_uv    INTEGER CHECK (forward_u_uv >= 0), reverse_mohm     INTEGER, reverse_u_mohm   INTEGER CHECK (reverse_u_mohm >= 0), reverse_at_least INTEGER CHECK (reverse_at_least IN (0, 1)), closed_rest_uohm INTEGER CHECK (closed_rest_uohm IS NULL
  OR closed_rest_uohm BETWEEN -500 AND 500 AND closed_rest_uohm <> 0 AND closed_mohm IS NOT NULL), closed_u_rest_uohm INTEGER CHECK (closed_u_rest_uohm IS NULL
  OR closed_u_rest_uohm BETWEEN -999 AND 500 AND closed_u_rest_uohm <> 0 AND coalesce(closed_u_mohm, 0) > 0), closed_ohm REAL AS ((closed_mohm * 1000 + coalesce(closed_rest_uohm, 0)) / 1e6), closed_u_ohm REAL AS ((closed_u_mohm * 1000 + coalesce(closed_u_rest_uohm, 0)) / 1e6), two_currents TEXT CHECK (json_type(two_currents) = 'object'
  AND two_currents ->> '$.conduction' IN ('ohmic', 'not ohmic', 'unsteady')),
  PRIMARY KEY (run, place),
  CHECK (closed_at_least IS NOT NULL OR (closed_mohm IS NULL AND closed_u_mohm IS NULL)),
  CHECK (closed_mohm IS NOT NULL OR closed_at_least IS NOT 0),
  CHECK ((make_us IS NULL) = (make_count IS NULL)),
  CHECK ((break_us IS NULL) = (break_count IS NULL)),
  CHECK (forward_uv IS NOT NULL OR forward_u_uv IS NULL)
) STRICT, WITHOUT ROWID;
-- = table run_pair
CREATE TABLE run_pair (
  run      INTEGER NOT NULL REFERENCES run DEFERRABLE INITIALLY DEFERRED,
  place    INTEGER NOT NULL,
  line_a   TEXT    NOT NULL,
  line_b   TEXT    NOT NULL,
  held     TEXT    NOT NULL,          -- label of the key held meanwhile; empty: none
  mohm     INTEGER,
  u_mohm   INTEGER CHECK (u_mohm >= 0),
  at_least INTEGER NOT NULL CHECK (at_least IN (0, 1)), forward_mohm      INTEGER, forward_u_mohm    INTEGER CHECK (forward_u_mohm >= 0), forward_at_least  INTEGER CHECK (forward_at_least IN (0, 1)), backward_mohm     INTEGER, backward_u_mohm   INTEGER CHECK (backward_u_mohm >= 0), backward_at_least INTEGER CHECK (backward_at_least IN (0, 1)), trend TEXT NOT NULL DEFAULT ''
  CHECK (trend IN ('', 'steady', 'rising', 'falling')),
  PRIMARY KEY (run, place),
  CHECK (mohm IS NOT NULL OR at_least = 1)
) STRICT, WITHOUT ROWID;
-- = table run_finding
CREATE TABLE run_finding (
  run        INTEGER NOT NULL REFERENCES run DEFERRABLE INITIALLY DEFERRED,
  place      INTEGER NOT NULL,        -- 0 is the worst
  what       TEXT    NOT NULL,
  location   TEXT    NOT NULL,        -- physical place in words
  key        TEXT    NOT NULL,        -- label; empty: not about one key
  lines      TEXT    NOT NULL CHECK (json_type(lines) = 'array'),
  pins       TEXT    NOT NULL CHECK (json_type(pins) = 'array'),
  value      REAL    CHECK (abs(value) < 1e308),   -- in unit
  value_open INTEGER NOT NULL CHECK (value_open IN (0, 1)),  -- 1: the value is infinite, value is NULL
  u          REAL    CHECK (u < 1e308),            -- standard uncertainty of value
  "limit"    REAL    CHECK (abs("limit") < 1e308),
  unit       TEXT    NOT NULL, site TEXT CHECK (json_type(site) = 'array'), how  TEXT CHECK (json_type(how) = 'array'),
  PRIMARY KEY (run, place),
  CHECK (value IS NULL OR value_open = 0)
) STRICT, WITHOUT ROWID;
-- = table calibration
CREATE TABLE calibration (
  seq                INTEGER PRIMARY KEY,   -- 1, 2, 3 ... without a gap: the order of calibrations
  id                 BLOB    NOT NULL UNIQUE CHECK (length(id) = 16),  -- UUIDv7
  kind               TEXT    NOT NULL CHECK (kind IN ('zero', 'verify')),
  jig                INTEGER NOT NULL REFERENCES jig,
  station            INTEGER NOT NULL REFERENCES station,
  simulated          INTEGER NOT NULL CHECK (simulated IN (0, 1)),
  operator           TEXT    NOT NULL,
  after_run          INTEGER NOT NULL,      -- run.seq of the newest run at saving, 0: none
  performed_us       INTEGER NOT NULL,
  interval_us        INTEGER NOT NULL CHECK (interval_us > 0),
  due_us             INTEGER NOT NULL,      -- of the next one of this kind
  box                TEXT    NOT NULL,      -- name of the reference box; empty for a zero
  box_serial         TEXT    NOT NULL,
  certificate        TEXT    NOT NULL,      -- its number
  certificate_due_us INTEGER,               -- NULL for a zero
  good               INTEGER NOT NULL CHECK (good IN (0, 1)),
  reason             TEXT    NOT NULL,      -- why it is not good; empty if it is
  saved_us           INTEGER NOT NULL,
  mono_ns            INTEGER,               -- since the start of the computer, at saving
  clock_synced       INTEGER CHECK (clock_synced IN (0, 1)),
  readings           INTEGER NOT NULL CHECK (readings > 0),
  hash               BLOB    NOT NULL CHECK (length(hash) = 32), self_test TEXT CHECK (json_type(self_test, '$.checks') = 'array'),  -- SHA-256 of the canonical record
  CHECK (due_us = performed_us + interval_us),
  CHECK ((kind = 'verify') = (certificate_due_us IS NOT NULL)),
  CHECK ((kind = 'verify') = (certificate <> '')),
  CHECK (good = (reason = ''))
) STRICT;
-- = table calibration_reading
CREATE TABLE calibration_reading (
  calibration     INTEGER NOT NULL REFERENCES calibration DEFERRABLE INITIALLY DEFERRED,
  place           INTEGER NOT NULL,         -- order in the calibration, from 0
  channel         INTEGER NOT NULL CHECK (channel >= 1),  -- as the pin above it, from 1
  mate            INTEGER CHECK (mate >= 1),              -- the other channel; NULL for a zero
  resistor        TEXT    NOT NULL,         -- its name in the box; empty for a zero
  reference_ohm   REAL    NOT NULL CHECK (reference_ohm > 0 AND reference_ohm < 1e308),  -- of the range
  certified_ohm   REAL    CHECK (certified_ohm > 0 AND certified_ohm < 1e308),           -- NULL for a zero
  certified_u_ohm REAL    CHECK (certified_u_ohm >= 0 AND certified_u_ohm < 1e308),
  ohm             REAL    NOT NULL CHECK (abs(ohm) < 1e308),  -- of a zero: in series with the channel
  u_ohm           REAL    NOT NULL CHECK (u_ohm >= 0 AND u_ohm < 1e308),
  deviation_ohm   REAL    NOT NULL CHECK (abs(deviation_ohm) < 1e308),  -- from certified, or from none
  deviation_u_ohm REAL    NOT NULL CHECK (deviation_u_ohm >= 0 AND deviation_u_ohm < 1e308),
  limit_ohm       REAL    NOT NULL CHECK (limit_ohm > 0 AND limit_ohm < 1e308),  -- of the deviation, either way
  good            INTEGER NOT NULL CHECK (good IN (0, 1)),
  PRIMARY KEY (calibration, place),
  CHECK ((mate IS NULL) = (certified_ohm IS NULL)),
  CHECK ((mate IS NULL) = (certified_u_ohm IS NULL)),
  CHECK (mate IS NOT channel),
  CHECK (good = (abs(deviation_ohm) <= limit_ohm))
) STRICT, WITHOUT ROWID;
-- = table reference_check
CREATE TABLE reference_check (
  seq     INTEGER PRIMARY KEY,        -- 1, 2, 3 ... without a gap
  run     INTEGER NOT NULL UNIQUE REFERENCES run,  -- the run that was judged
  unit    TEXT    NOT NULL CHECK (unit <> ''),     -- serial number of the reference unit
  kind    TEXT    NOT NULL CHECK (kind IN ('good', 'bad')),  -- what the unit is known to be
  good    INTEGER NOT NULL CHECK (good IN (0, 1)),           -- it showed what it must
  why     TEXT    NOT NULL,           -- why not; empty if it did
  CHECK (good = (why = ''))
) STRICT;
-- = table return_case
CREATE TABLE return_case (
  seq       INTEGER PRIMARY KEY,      -- 1, 2, 3 ... without a gap: the number of the case
  id        BLOB    NOT NULL UNIQUE CHECK (length(id) = 16),  -- UUIDv7
  serial    TEXT    NOT NULL CHECK (serial <> ''),
  product   TEXT    NOT NULL,         -- code
  after_run INTEGER NOT NULL,         -- run.seq of the newest run at that time, 0: none
  by        TEXT    NOT NULL CHECK (by <> ''),
  at_us     INTEGER NOT NULL,
  hash      BLOB    NOT NULL CHECK (length(hash) = 32)
) STRICT;
-- = table return_intake
CREATE TABLE return_intake (
  seq            INTEGER PRIMARY KEY,
  return_case    INTEGER NOT NULL REFERENCES return_case,
  received_us    INTEGER NOT NULL,
  complaint      TEXT    NOT NULL CHECK (complaint <> ''),
  complaint_text TEXT    NOT NULL,
  conditions     TEXT    NOT NULL CHECK (json_type(conditions) = 'array'),  -- what can be seen
  condition_text TEXT    NOT NULL,
  ends_testing   INTEGER NOT NULL CHECK (ends_testing IN (0, 1)),  -- 1: damaged, no electrical test
  customer       TEXT    NOT NULL,
  lot            TEXT    NOT NULL,
  by             TEXT    NOT NULL CHECK (by <> ''),
  at_us          INTEGER NOT NULL,
  hash           BLOB    NOT NULL CHECK (length(hash) = 32)
) STRICT;
-- = table return_photo
CREATE TABLE return_photo (
  seq          INTEGER PRIMARY KEY,
  return_case  INTEGER NOT NULL REFERENCES return_case,
  sha256       BLOB    NOT NULL CHECK (length(sha256) = 32),  -- the file beside the database is named after it
  bytes        INTEGER NOT NULL CHECK (bytes > 0),
  content_type TEXT    NOT NULL CHECK (content_type GLOB 'image/*'),
  name         TEXT    NOT NULL,      -- of the file it came from
  note         TEXT    NOT NULL,
  by           TEXT    NOT NULL CHECK (by <> ''),
  at_us        INTEGER NOT NULL,
  hash         BLOB    NOT NULL CHECK (length(hash) = 32)
) STRICT;
-- = table return_diagnosis
CREATE TABLE return_diagnosis (
  seq         INTEGER PRIMARY KEY,
  return_case INTEGER NOT NULL REFERENCES return_case,
  run         INTEGER NOT NULL REFERENCES run,  -- whose readings were explained
  causes      TEXT    NOT NULL CHECK (json_type(causes) = 'array'),
  software    TEXT    NOT NULL,       -- version of padjig
  at_us       INTEGER NOT NULL,
  hash        BLOB    NOT NULL CHECK (length(hash) = 32)
) STRICT;
-- = table return_disposition
CREATE TABLE return_disposition (
  seq         INTEGER PRIMARY KEY,
  return_case INTEGER NOT NULL REFERENCES return_case,
  disposition TEXT    NOT NULL CHECK (disposition IN
    ('confirmed', 'not reproduced', 'customer damage', 'jig false accept suspected', 'reopened')),
  reason      TEXT    NOT NULL,
  by          TEXT    NOT NULL CHECK (by <> ''),
  at_us       INTEGER NOT NULL,
  hash        BLOB    NOT NULL CHECK (length(hash) = 32)
) STRICT;
-- = table rework
CREATE TABLE rework (
  seq         INTEGER PRIMARY KEY,
  serial      TEXT    NOT NULL CHECK (serial <> ''),
  return_case INTEGER REFERENCES return_case,  -- NULL: not at the returns desk
  after_run   INTEGER NOT NULL,       -- run.seq of the newest run at that time, 0: none
  what        TEXT    NOT NULL CHECK (what <> ''),
  place       TEXT    NOT NULL,       -- key or line; empty: the whole unit
  note        TEXT    NOT NULL,
  by          TEXT    NOT NULL CHECK (by <> ''),
  done_us     INTEGER NOT NULL,
  at_us       INTEGER NOT NULL,
  hash        BLOB    NOT NULL CHECK (length(hash) = 32)
) STRICT;
-- = table run_exercise
CREATE TABLE run_exercise (
  run            INTEGER NOT NULL REFERENCES run DEFERRABLE INITIALLY DEFERRED,
  place          INTEGER NOT NULL,
  key            INTEGER NOT NULL REFERENCES key,
  presses        INTEGER NOT NULL CHECK (presses >= 0),
  misses         INTEGER NOT NULL CHECK (misses >= 0),     -- did not close, or did not stay closed
  high           INTEGER NOT NULL CHECK (high >= 0),       -- closed, for sure beyond the limit
  sticks         INTEGER NOT NULL CHECK (sticks >= 0),     -- did not open when let go
  first_bad      INTEGER NOT NULL CHECK (first_bad BETWEEN 0 AND presses),  -- press, from 1; 0: none
  least_mohm     INTEGER,             -- closed resistance over all presses; NULL: never closed
  least_u_mohm   INTEGER CHECK (least_u_mohm >= 0),
  most_mohm      INTEGER,
  most_u_mohm    INTEGER CHECK (most_u_mohm >= 0),
  make_us        INTEGER NOT NULL CHECK (make_us >= 0),    -- longest bounce
  break_us       INTEGER NOT NULL CHECK (break_us >= 0),
  held_us        INTEGER NOT NULL CHECK (held_us >= 0),    -- held closed and watched
  held_opened    INTEGER NOT NULL CHECK (held_opened >= 0),
  held_longest_us INTEGER NOT NULL CHECK (held_longest_us >= 0),
  held_more      INTEGER NOT NULL CHECK (held_more IN (0, 1)),   -- 1: there were more openings
  flexed_us      INTEGER NOT NULL CHECK (flexed_us >= 0),  -- the same while the tail was moved
  flexed_opened  INTEGER NOT NULL CHECK (flexed_opened >= 0),
  flexed_longest_us INTEGER NOT NULL CHECK (flexed_longest_us >= 0),
  flexed_more    INTEGER NOT NULL CHECK (flexed_more IN (0, 1)), least_rest_uohm INTEGER CHECK (least_rest_uohm IS NULL
  OR least_rest_uohm BETWEEN -500 AND 500 AND least_rest_uohm <> 0 AND least_mohm IS NOT NULL), least_u_rest_uohm INTEGER CHECK (least_u_rest_uohm IS NULL
  OR least_u_rest_uohm BETWEEN -999 AND 500 AND least_u_rest_uohm <> 0 AND coalesce(least_u_mohm, 0) > 0), most_rest_uohm INTEGER CHECK (most_rest_uohm IS NULL
  OR most_rest_uohm BETWEEN -500 AND 500 AND most_rest_uohm <> 0 AND most_mohm IS NOT NULL), most_u_rest_uohm INTEGER CHECK (most_u_rest_uohm IS NULL
  OR most_u_rest_uohm BETWEEN -999 AND 500 AND most_u_rest_uohm <> 0 AND coalesce(most_u_mohm, 0) > 0), least_ohm REAL AS ((least_mohm * 1000 + coalesce(least_rest_uohm, 0)) / 1e6), least_u_ohm REAL AS ((least_u_mohm * 1000 + coalesce(least_u_rest_uohm, 0)) / 1e6), most_ohm REAL AS ((most_mohm * 1000 + coalesce(most_rest_uohm, 0)) / 1e6), most_u_ohm REAL AS ((most_u_mohm * 1000 + coalesce(most_u_rest_uohm, 0)) / 1e6),
  PRIMARY KEY (run, place),
  CHECK ((least_mohm IS NULL) = (most_mohm IS NULL))
) STRICT, WITHOUT ROWID;
-- = table lot_change
CREATE TABLE lot_change (
  seq         INTEGER PRIMARY KEY,    -- 1, 2, 3 ... without a gap
  jig         TEXT    NOT NULL CHECK (jig <> ''),      -- serial number
  product     TEXT    NOT NULL CHECK (product <> ''),  -- code
  simulated   INTEGER NOT NULL CHECK (simulated IN (0, 1)),
  membrane    TEXT    NOT NULL,       -- every lot in use after the change; empty: not known
  dome        TEXT    NOT NULL,
  board       TEXT    NOT NULL,
  consumables TEXT    NOT NULL,       -- of the jig: tips, contacts
  after_run   INTEGER NOT NULL,       -- run.seq of the newest run at saving, 0: none
  by          TEXT    NOT NULL CHECK (by <> ''),
  at_us       INTEGER NOT NULL
) STRICT;
-- = table shift
CREATE TABLE shift (
  shift      INTEGER PRIMARY KEY,
  plan       INTEGER NOT NULL,        -- shifts with one plan number are in force together
  name       TEXT    NOT NULL CHECK (name <> ''),
  begins_min INTEGER NOT NULL CHECK (begins_min BETWEEN 0 AND 1439),  -- minutes after midnight in zone
  ends_min   INTEGER NOT NULL CHECK (ends_min BETWEEN 0 AND 1439),    -- not part of it; may be on the next day
  zone       TEXT    NOT NULL CHECK (zone <> ''),      -- name in the time zone database
  after_run  INTEGER NOT NULL,
  by         TEXT    NOT NULL CHECK (by <> ''),
  reason     TEXT    NOT NULL,
  at_us      INTEGER NOT NULL, days INTEGER NOT NULL DEFAULT 127 CHECK (days BETWEEN 1 AND 127),
  UNIQUE (plan, name)
) STRICT;
-- = table baseline
CREATE TABLE baseline (
  seq       INTEGER PRIMARY KEY,      -- 1, 2, 3 ... without a gap
  subject   TEXT    NOT NULL CHECK (subject <> ''),    -- what is charted and how, in words
  selection TEXT    NOT NULL,         -- the runs it was computed from, as URL query parameters
  points    INTEGER NOT NULL CHECK (points > 0),
  limits    TEXT    NOT NULL CHECK (json_type(limits) = 'object'),
  simulated INTEGER NOT NULL CHECK (simulated IN (0, 1)),
  after_run INTEGER NOT NULL,
  by        TEXT    NOT NULL CHECK (by <> ''),
  reason    TEXT    NOT NULL CHECK (reason <> ''),
  at_us     INTEGER NOT NULL
) STRICT;
-- = table cell
CREATE TABLE cell (
  cell      INTEGER PRIMARY KEY,
  hour      INTEGER NOT NULL,         -- of run.started_us, in hours of UTC since 1970
  shift     INTEGER NOT NULL,         -- shift.shift, 0: none
  revision  INTEGER NOT NULL REFERENCES revision,
  jig       INTEGER NOT NULL REFERENCES jig,
  lots      INTEGER NOT NULL,         -- lot_change.seq, 0: none
  operator  TEXT    NOT NULL,
  actuation TEXT    NOT NULL,
  simulated INTEGER NOT NULL CHECK (simulated IN (0, 1)),
  purpose   TEXT    NOT NULL,         -- empty: production
  first_run INTEGER NOT NULL DEFAULT 0,                -- run.seq of its first and last run
  last_run  INTEGER NOT NULL DEFAULT 0,
  runs      INTEGER NOT NULL DEFAULT 0,
  reseat    INTEGER NOT NULL DEFAULT 0,                -- runs that ended so
  incomplete INTEGER NOT NULL DEFAULT 0,
  aborted   INTEGER NOT NULL DEFAULT 0,
  units     INTEGER NOT NULL DEFAULT 0,                -- units whose first judged run is here
  first_passed INTEGER NOT NULL DEFAULT 0,             -- of units: the first judged run is a pass
  last_passed  INTEGER NOT NULL DEFAULT 0,             -- of units: the last judged run, wherever, is a pass
  retests   INTEGER NOT NULL DEFAULT 0,                -- judged runs of units judged before
  cures     INTEGER NOT NULL DEFAULT 0,                -- of retests: a pass after a fail
  relapses  INTEGER NOT NULL DEFAULT 0,                -- of retests: a fail after a pass
  UNIQUE (hour, shift, revision, jig, lots, operator, actuation, simulated, purpose)
) STRICT;
-- = table cell_reading
CREATE TABLE cell_reading (
  cell   INTEGER PRIMARY KEY REFERENCES cell,
  packed BLOB NOT NULL                -- closed resistance of each key at the first judged runs
) STRICT;
-- = table fault
CREATE TABLE fault (
  fault    INTEGER PRIMARY KEY,
  what     TEXT NOT NULL,
  location TEXT NOT NULL,
  key      TEXT NOT NULL,
  lines    TEXT NOT NULL CHECK (json_type(lines) = 'array'),
  pins     TEXT NOT NULL CHECK (json_type(pins) = 'array'),
  UNIQUE (what, location, key, lines, pins)
) STRICT;
-- = table cell_finding
CREATE TABLE cell_finding (
  cell  INTEGER NOT NULL REFERENCES cell,
  fault INTEGER NOT NULL REFERENCES fault,
  units INTEGER NOT NULL,             -- first judged runs with this finding
  worst INTEGER NOT NULL,             -- of those: it is the worst finding of the run
  runs  INTEGER NOT NULL,             -- all runs with this finding
  PRIMARY KEY (cell, fault)
) STRICT, WITHOUT ROWID;
-- = table run_cell
CREATE TABLE run_cell (
  run  INTEGER PRIMARY KEY REFERENCES run,
  cell INTEGER NOT NULL REFERENCES cell,
  turn INTEGER NOT NULL               -- 1: first judged run of the unit, 2: second ...; 0: not judged
) STRICT;
-- = table account_event
CREATE TABLE account_event (
  seq    INTEGER PRIMARY KEY,         -- 1, 2, 3 ... without a gap
  name   TEXT    NOT NULL CHECK (name <> ''),
  kind   TEXT    NOT NULL CHECK (kind IN ('role', 'password', 'badge', 'closed')),
  role   TEXT    NOT NULL CHECK ((kind = 'role') = (role IN ('operator', 'quality', 'returns', 'engineer'))),
  secret TEXT    NOT NULL,            -- Argon2id of a password; SHA-256 of a badge's code, hexadecimal; else empty
  by     TEXT    NOT NULL CHECK (by <> ''),
  at_us  INTEGER NOT NULL, notice INTEGER REFERENCES notice,
  CHECK ((kind IN ('password', 'badge')) = (secret <> ''))
) STRICT;
-- = table session
CREATE TABLE session (
  seq   INTEGER PRIMARY KEY,          -- 1, 2, 3 ... without a gap
  hash  BLOB    NOT NULL UNIQUE CHECK (length(hash) = 32),  -- SHA-256 of the browser's token
  name  TEXT    NOT NULL CHECK (name <> ''),
  how   TEXT    NOT NULL CHECK (how IN ('password', 'badge')),
  at_us INTEGER NOT NULL
) STRICT;
-- = table session_end
CREATE TABLE session_end (
  session INTEGER PRIMARY KEY REFERENCES session,
  at_us   INTEGER NOT NULL
, by TEXT NOT NULL DEFAULT '') STRICT;
-- = table override
CREATE TABLE override (
  seq       INTEGER PRIMARY KEY,      -- 1, 2, 3 ... without a gap
  what      TEXT    NOT NULL CHECK (what <> ''),  -- what stood in the way
  serial    TEXT    NOT NULL,         -- of the unit
  jig       TEXT    NOT NULL,         -- serial number
  by        TEXT    NOT NULL CHECK (by <> ''),
  reason    TEXT    NOT NULL CHECK (reason <> ''),
  after_run INTEGER NOT NULL,         -- run.seq of the newest run at saving, 0: none
  at_us     INTEGER NOT NULL
) STRICT;
-- = table release
CREATE TABLE release (
  seq       INTEGER PRIMARY KEY,      -- 1, 2, 3 ... without a gap
  code      TEXT    NOT NULL CHECK (code <> ''),  -- of the product
  label     TEXT    NOT NULL,         -- the engineer's name of the revision
  hash      TEXT    NOT NULL CHECK (length(hash) = 64),  -- of its meaning
  kind      TEXT    NOT NULL CHECK (kind IN ('release', 'back')),
  source    TEXT    NOT NULL CHECK (source <> ''),       -- the product file, whole
  by        TEXT    NOT NULL CHECK (by <> ''),
  reason    TEXT    NOT NULL CHECK (reason <> ''),
  after_run INTEGER NOT NULL,         -- run.seq of the newest run at saving, 0: none
  at_us     INTEGER NOT NULL
, proposal INTEGER REFERENCES release_proposal, notice INTEGER, from_serial TEXT NOT NULL DEFAULT '', approved TEXT NOT NULL DEFAULT '') STRICT;
-- = table gauge_study
CREATE TABLE gauge_study (
  seq       INTEGER PRIMARY KEY,      -- 1, 2, 3 ... without a gap: the number of the study
  revision  INTEGER NOT NULL REFERENCES revision,
  across    TEXT    NOT NULL CHECK (across IN ('jig', 'operator')),  -- who or what is compared
  parts     TEXT    NOT NULL CHECK (json_type(parts) = 'array'),     -- serial numbers
  appraisers TEXT   NOT NULL CHECK (json_type(appraisers) = 'array'),-- jigs or operators
  repeats   INTEGER NOT NULL CHECK (repeats >= 2),
  plan      TEXT    NOT NULL CHECK (json_type(plan) = 'array'),      -- [part, appraiser, repeat] from 0, in the order drawn
  seed      INTEGER NOT NULL,         -- that the order was drawn with
  note      TEXT    NOT NULL,
  by        TEXT    NOT NULL CHECK (by <> ''),
  at_us     INTEGER NOT NULL,
  hash      BLOB    NOT NULL CHECK (length(hash) = 32)
) STRICT;
-- = table gauge_reading
CREATE TABLE gauge_reading (
  seq       INTEGER PRIMARY KEY,      -- 1, 2, 3 ... without a gap
  study     INTEGER NOT NULL REFERENCES gauge_study,
  place     INTEGER NOT NULL CHECK (place >= 0),   -- in the plan, from 0
  run       INTEGER NOT NULL UNIQUE REFERENCES run,
  hash      BLOB    NOT NULL CHECK (length(hash) = 32),
  UNIQUE (study, place)
) STRICT;
-- = table handover
CREATE TABLE handover (
  seq       INTEGER PRIMARY KEY,      -- 1, 2, 3 ... without a gap
  shift     TEXT    NOT NULL CHECK (shift <> ''),      -- name of the shift that was handed over
  day       TEXT    NOT NULL CHECK (day GLOB '[0-9][0-9][0-9][0-9]-[0-9][0-9]-[0-9][0-9]'),  -- it began on
  simulated INTEGER NOT NULL CHECK (simulated IN (0, 1)),
  after_run INTEGER NOT NULL,         -- run.seq of the newest run at signing, 0: none
  by        TEXT    NOT NULL CHECK (by <> ''),         -- incoming lead
  note      TEXT    NOT NULL,
  at_us     INTEGER NOT NULL
) STRICT;
-- = table run_start
CREATE TABLE run_start (
  seq         INTEGER PRIMARY KEY,    -- 1, 2, 3 ... without a gap
  id          BLOB    NOT NULL UNIQUE CHECK (length(id) = 16),  -- UUIDv7
  serial      TEXT    NOT NULL CHECK (serial <> ''),
  revision    INTEGER NOT NULL REFERENCES revision,
  jig         INTEGER NOT NULL REFERENCES jig,
  station     INTEGER NOT NULL REFERENCES station,
  simulated   INTEGER NOT NULL CHECK (simulated IN (0, 1)),
  actuation   TEXT    NOT NULL,
  operator    TEXT    NOT NULL,
  purpose     TEXT    NOT NULL,       -- empty: production
  return_case INTEGER REFERENCES return_case,  -- NULL: not at the returns desk
  attempt     INTEGER NOT NULL CHECK (attempt >= 1),
  after_run   INTEGER NOT NULL,       -- run.seq of the newest run at that time, 0: none
  started_us  INTEGER NOT NULL,
  hash        BLOB    NOT NULL CHECK (length(hash) = 32)
) STRICT;
-- = table run_unfinished
CREATE TABLE run_unfinished (
  seq    INTEGER PRIMARY KEY,         -- 1, 2, 3 ... without a gap
  start  INTEGER NOT NULL UNIQUE REFERENCES run_start,
  at_us  INTEGER NOT NULL,            -- it was found
  hash   BLOB    NOT NULL CHECK (length(hash) = 32)
) STRICT;
-- = table sign_in
CREATE TABLE sign_in (
  seq     INTEGER PRIMARY KEY,         -- 1, 2, 3 ... without a gap
  name    TEXT    NOT NULL,            -- of the account; empty: no such account, or not known
  address TEXT    NOT NULL,            -- of the connection, IPv6 as its network; empty: not known
  how     TEXT    NOT NULL CHECK (how IN ('password', 'badge')),
  outcome TEXT    NOT NULL CHECK (outcome IN ('in', 'wrong', 'too many')),
  at_us   INTEGER NOT NULL,
  CHECK (outcome <> 'in' OR name <> '')
) STRICT;
-- = table nest_count
CREATE TABLE nest_count (
  seq      INTEGER PRIMARY KEY,       -- 1, 2, 3 ... without a gap
  start    INTEGER NOT NULL REFERENCES run_start,
  moment   TEXT    NOT NULL CHECK (moment IN ('start', 'end')),
  boot     INTEGER NOT NULL,          -- number that the jig drew when it booted
  openings INTEGER NOT NULL CHECK (openings >= 0),  -- since then
  hash     BLOB    NOT NULL CHECK (length(hash) = 32),
  UNIQUE (start, moment)
) STRICT;
-- = table nest_empty
CREATE TABLE nest_empty (
  seq         INTEGER PRIMARY KEY,    -- 1, 2, 3 ... without a gap
  jig         TEXT    NOT NULL,       -- its serial number
  simulated   INTEGER NOT NULL CHECK (simulated IN (0, 1)),
  after_start INTEGER NOT NULL,       -- run_start.seq of the newest start at that time, 0: none
  at_us       INTEGER NOT NULL,
  hash        BLOB    NOT NULL CHECK (length(hash) = 32)
) STRICT;
-- = table line_split
CREATE TABLE line_split (
  line_split INTEGER PRIMARY KEY,
  fed        TEXT NOT NULL CHECK (json_type(fed) = 'array'),       -- ["R1", "R3"]
  grounded   TEXT NOT NULL CHECK (json_type(grounded) = 'array'),
  UNIQUE (fed, grounded)
) STRICT;
-- = table run_insulation
CREATE TABLE run_insulation (
  run        INTEGER NOT NULL REFERENCES run DEFERRABLE INITIALLY DEFERRED,
  place      INTEGER NOT NULL,
  step       INTEGER NOT NULL REFERENCES step,
  line_split INTEGER NOT NULL REFERENCES line_split,
  mohm       INTEGER,                              -- NULL: open
  u_mohm     INTEGER CHECK (u_mohm >= 0),          -- NULL: unknown
  at_least   INTEGER NOT NULL CHECK (at_least IN (0, 1)),
  PRIMARY KEY (run, place),
  CHECK (mohm IS NOT NULL OR at_least = 1)
) STRICT, WITHOUT ROWID;
-- = table release_proposal
CREATE TABLE release_proposal (
  seq         INTEGER PRIMARY KEY,    -- 1, 2, 3 ... without a gap
  code        TEXT    NOT NULL CHECK (code <> ''),       -- of the product
  label       TEXT    NOT NULL,       -- the engineer's name of the revision
  revision    TEXT    NOT NULL CHECK (length(revision) = 64),  -- hash of its meaning
  kind        TEXT    NOT NULL CHECK (kind IN ('release', 'back')),
  source      TEXT    NOT NULL CHECK (source <> ''),     -- the product file, whole
  by          TEXT    NOT NULL CHECK (trim(by) <> ''),
  reason      TEXT    NOT NULL CHECK (length(trim(reason)) >= 8),
  from_serial TEXT    NOT NULL,       -- first unit that may be tested by it; empty: no loosening, every unit
  base        INTEGER NOT NULL,       -- release.seq of the one in force then, 0: none
  against     TEXT    NOT NULL,       -- hash of what it was compared with, empty: of nothing
  loosens     INTEGER NOT NULL CHECK (loosens IN (0, 1)),-- it lets more through, or is a risk
  changes     TEXT    NOT NULL CHECK (json_type(changes) = 'array'),
  trial       TEXT    NOT NULL CHECK (json_type(trial) = 'object'),  -- what it would have done to runs of before
  after_run   INTEGER NOT NULL,       -- run.seq of the newest run then, 0: none
  after_account INTEGER NOT NULL,     -- account_event.seq of the newest one then, 0: none
  at_us       INTEGER NOT NULL,
  hash        BLOB    NOT NULL CHECK (length(hash) = 32),
  CHECK (loosens = 0 OR from_serial <> '')
) STRICT;
-- = table release_approval
CREATE TABLE release_approval (
  seq       INTEGER PRIMARY KEY,      -- 1, 2, 3 ... without a gap
  proposal  INTEGER NOT NULL UNIQUE REFERENCES release_proposal,
  revision  TEXT    NOT NULL CHECK (length(revision) = 64),  -- hash of what was approved
  by        TEXT    NOT NULL CHECK (trim(by) <> ''),
  at_us     INTEGER NOT NULL,
  hash      BLOB    NOT NULL CHECK (length(hash) = 32)
) STRICT;
-- = table wear_event
CREATE TABLE "wear_event" (
  seq        INTEGER PRIMARY KEY,     -- 1, 2, 3 ... without a gap
  jig        TEXT    NOT NULL CHECK (jig <> ''),   -- serial number
  simulated  INTEGER CHECK (simulated IN (0, 1)),  -- NULL: of before this was told apart, holds for both
  part       TEXT    NOT NULL CHECK (part IN ('nest', 'adapter', 'probe set', 'cable') OR part GLOB 'actuator [1-9]*'
               OR part GLOB 'probe set [1-9]*' OR part GLOB 'cable [1-9]*'),
  kind       TEXT    NOT NULL CHECK (kind IN ('replaced', 'removed', 'limits')),
  name       TEXT    NOT NULL DEFAULT '',          -- of the part that was put in; empty: none of its own
  lot        TEXT    NOT NULL DEFAULT '',
  tip        TEXT    NOT NULL DEFAULT '',          -- what its tips are like
  serves     TEXT    NOT NULL DEFAULT '' CHECK (serves = '' OR json_type(serves) = 'array'),  -- channels from 1; empty: all
  after_run  INTEGER NOT NULL,        -- run.seq of the newest run at saving, 0: none
  warn       INTEGER CHECK (warn > 0),             -- uses; NULL for all but limits
  block      INTEGER CHECK (block >= warn),
  by         TEXT    NOT NULL CHECK (by <> ''),
  note       TEXT    NOT NULL,
  at_us      INTEGER NOT NULL,
  CHECK ((kind = 'limits') = (warn IS NOT NULL AND block IS NOT NULL)),
  CHECK (kind <> 'replaced' OR simulated IS NULL OR name <> '' OR lot <> '')
) STRICT;
-- = table shipment
CREATE TABLE shipment (
  seq       INTEGER PRIMARY KEY,      -- 1, 2, 3 ... without a gap
  serial    TEXT    NOT NULL CHECK (serial <> ''),
  simulated INTEGER NOT NULL CHECK (simulated IN (0, 1)),
  kind      TEXT    NOT NULL CHECK (kind IN ('shipped', 'in stock')),  -- the last one of a unit counts
  consignee TEXT    NOT NULL,         -- to whom; empty: not said
  although  TEXT    NOT NULL,         -- why, of a unit that has not passed by the records; empty: it has
  after_run INTEGER NOT NULL,         -- run.seq of the newest run at saving, 0: none
  by        TEXT    NOT NULL CHECK (by <> ''),
  note      TEXT    NOT NULL,
  at_us     INTEGER NOT NULL
) STRICT;
-- = table return_no_photo
CREATE TABLE return_no_photo (
  seq         INTEGER PRIMARY KEY,    -- 1, 2, 3 ... without a gap
  return_case INTEGER NOT NULL REFERENCES return_case,
  reason      TEXT    NOT NULL CHECK (reason <> ''),
  by          TEXT    NOT NULL CHECK (by <> ''),
  at_us       INTEGER NOT NULL,
  hash        BLOB    NOT NULL CHECK (length(hash) = 32)
) STRICT;
-- = table return_unlock
CREATE TABLE return_unlock (
  seq         INTEGER PRIMARY KEY,
  return_case INTEGER NOT NULL REFERENCES return_case,
  intake      INTEGER NOT NULL REFERENCES return_intake,  -- the newest one at that time
  override    INTEGER NOT NULL UNIQUE REFERENCES override,  -- who, why
  hash        BLOB    NOT NULL CHECK (length(hash) = 32)
) STRICT;
-- = table return_disposal
CREATE TABLE return_disposal (
  seq            INTEGER PRIMARY KEY,
  disposition    INTEGER NOT NULL UNIQUE REFERENCES return_disposition DEFERRABLE INITIALLY DEFERRED,
  disposal       TEXT    NOT NULL CHECK (disposal IN ('scrapped', 'sent back repaired', 'sent back as it is',
                   'replaced', 'kept for analysis', 'back to production')),
  after_run      INTEGER NOT NULL,    -- run.seq of the newest run at that time, 0: none
  contradictions TEXT    NOT NULL CHECK (json_type(contradictions) = 'array'),  -- code, arguments, answer of each
  hash           BLOB    NOT NULL CHECK (length(hash) = 32)
) STRICT;
-- = table rework_deed
CREATE TABLE rework_deed (
  seq     INTEGER PRIMARY KEY,
  rework  INTEGER NOT NULL UNIQUE REFERENCES rework DEFERRABLE INITIALLY DEFERRED,
  deed    TEXT    NOT NULL CHECK (deed <> ''),
  kind    TEXT    NOT NULL CHECK (kind IN ('unit', 'key', 'line', 'pin', 'connector')),  -- of the place
  place   TEXT    NOT NULL,           -- its name in the product; empty: unit, connector
  part    TEXT    NOT NULL,           -- put in; empty: none
  lot     TEXT    NOT NULL CHECK ((part = '') = (lot = '')),
  hash    BLOB    NOT NULL CHECK (length(hash) = 32)
) STRICT;
-- = table stop
CREATE TABLE stop (
  seq       INTEGER PRIMARY KEY,      -- 1, 2, 3 ... without a gap: the number of the stop
  jig       TEXT    NOT NULL CHECK (jig <> ''),      -- serial number
  product   TEXT    NOT NULL CHECK (product <> ''),  -- code
  simulated INTEGER NOT NULL CHECK (simulated IN (0, 1)),
  rule      TEXT    NOT NULL CHECK (rule <> ''),
  unit      TEXT    NOT NULL,         -- the one that it holds for; empty: the line
  finding   TEXT    NOT NULL,         -- that is the same; empty: the rule is about none
  key       TEXT    NOT NULL,         -- label; empty: not about one key
  lines     TEXT    NOT NULL,         -- with blanks between
  pins      TEXT    NOT NULL CHECK (json_type(pins) = 'array'),  -- of the tail, whose contact was doubtful
  units     INTEGER NOT NULL,         -- that met it, or reseats of the one; of the yield: that passed
  of        INTEGER NOT NULL,         -- units that the yield is of
  run       INTEGER NOT NULL REFERENCES run,         -- that met it
  after_run INTEGER NOT NULL,         -- run.seq of the newest run when it was written
  boot_id   TEXT    NOT NULL,         -- of the computer, empty if unknown
  mono_ns   INTEGER,                  -- since the start of the computer; NULL: not told
  at_us     INTEGER NOT NULL,
  hash      BLOB    NOT NULL CHECK (length(hash) = 32)
) STRICT;
-- = table stop_lifting
CREATE TABLE stop_lifting (
  seq       INTEGER PRIMARY KEY,      -- 1, 2, 3 ... without a gap
  stop      INTEGER NOT NULL UNIQUE REFERENCES stop,
  reason    TEXT    NOT NULL CHECK (reason <> ''),   -- a code
  note      TEXT    NOT NULL,
  by        TEXT    NOT NULL CHECK (by <> ''),
  after_run INTEGER NOT NULL,         -- run.seq of the newest run then: the rules count from the next one on
  took_us   INTEGER NOT NULL CHECK (took_us >= 0),   -- since the stop was written
  at_us     INTEGER NOT NULL,
  hash      BLOB    NOT NULL CHECK (length(hash) = 32)
) STRICT;
-- = table stop_beginning
CREATE TABLE stop_beginning (
  seq       INTEGER PRIMARY KEY CHECK (seq = 1),
  after_run INTEGER NOT NULL
) STRICT;
-- = table fail_place
CREATE TABLE fail_place (              -- besides the one that every line has
  seq   INTEGER PRIMARY KEY,           -- 1, 2, 3 ... without a gap
  name  TEXT    NOT NULL UNIQUE CHECK (name <> ''),
  by    TEXT    NOT NULL CHECK (by <> ''),
  at_us INTEGER NOT NULL,
  hash  BLOB    NOT NULL CHECK (length(hash) = 32)
) STRICT;
-- = table placement
CREATE TABLE placement (
  seq       INTEGER PRIMARY KEY,       -- 1, 2, 3 ... without a gap
  run       INTEGER NOT NULL UNIQUE REFERENCES run,  -- whose tag it was
  how       TEXT    NOT NULL CHECK (how IN ('placed', 'lifted')),  -- lifted: somebody decided to go on without
  place     INTEGER REFERENCES fail_place,           -- NULL: the one that every line has, or none
  by        TEXT    NOT NULL CHECK (by <> ''),
  reason    TEXT    NOT NULL,          -- why it was lifted; empty where it was placed
  after_run INTEGER NOT NULL,          -- run.seq of the newest run at that time
  at_us     INTEGER NOT NULL,
  hash      BLOB    NOT NULL CHECK (length(hash) = 32),
  CHECK ((how = 'lifted') = (reason <> '')),
  CHECK (how = 'placed' OR place IS NULL),
  CHECK (after_run >= run)
) STRICT;
-- = table fails_owe
CREATE TABLE fails_owe (
  seq       INTEGER PRIMARY KEY CHECK (seq = 1),
  after_run INTEGER NOT NULL           -- run.seq of the newest run at that time, 0: none
) STRICT;
-- = table product_change
CREATE TABLE product_change (
  seq       INTEGER PRIMARY KEY,       -- 1, 2, 3 ... without a gap
  jig       TEXT    NOT NULL CHECK (jig <> ''),        -- serial number
  simulated INTEGER NOT NULL CHECK (simulated IN (0, 1)),
  before    TEXT    NOT NULL CHECK (before <> ''),     -- code of the product until then
  product   TEXT    NOT NULL CHECK (product <> ''),    -- code of the product from then on
  given     TEXT    NOT NULL CHECK (given <> ''),      -- code of the one that the station was started with for the jig
  after_run INTEGER NOT NULL,          -- run.seq of the newest run at that time, 0: none
  by        TEXT    NOT NULL CHECK (by <> ''),
  at_us     INTEGER NOT NULL,
  hash      BLOB    NOT NULL CHECK (length(hash) = 32)
) STRICT;
-- = table account_lock
CREATE TABLE account_lock (
  seq   INTEGER PRIMARY KEY,          -- 1, 2, 3 ... without a gap
  name  TEXT    NOT NULL CHECK (name <> ''),            -- of the account
  kind  TEXT    NOT NULL CHECK (kind IN ('locked', 'unlocked')),
  by    TEXT    NOT NULL CHECK (by <> ''),
  at_us INTEGER NOT NULL,
  hash  BLOB    NOT NULL CHECK (length(hash) = 32)
) STRICT;
-- = table draft
CREATE TABLE draft (
  code    TEXT    NOT NULL CHECK (code <> ''),          -- of the product
  by      TEXT    NOT NULL CHECK (by <> ''),
  version INTEGER NOT NULL CHECK (version > 0),         -- rises with every change
  source  TEXT    NOT NULL,                             -- the product file as far as it is
  at_us   INTEGER NOT NULL,
  PRIMARY KEY (code, by)
) STRICT, WITHOUT ROWID;
-- = table plant_zone
CREATE TABLE plant_zone (
  seq   INTEGER PRIMARY KEY,          -- 1, 2, 3 ... without a gap
  zone  TEXT    NOT NULL CHECK (zone <> ''),            -- such as Europe/Vienna
  host  TEXT    NOT NULL,             -- of the station that was started with it
  at_us INTEGER NOT NULL,
  hash  BLOB    NOT NULL CHECK (length(hash) = 32)
) STRICT;
-- = table release_withdrawal
CREATE TABLE release_withdrawal (
  seq      INTEGER PRIMARY KEY,       -- 1, 2, 3 ... without a gap
  proposal INTEGER NOT NULL UNIQUE REFERENCES release_proposal,
  by       TEXT    NOT NULL CHECK (trim(by) <> ''),
  reason   TEXT    NOT NULL CHECK (length(trim(reason)) >= 8),
  at_us    INTEGER NOT NULL,
  hash     BLOB    NOT NULL CHECK (length(hash) = 32)
) STRICT;
-- = table commissioning
CREATE TABLE commissioning (
  seq       INTEGER PRIMARY KEY,      -- 1, 2, 3 ... without a gap
  id        BLOB    NOT NULL UNIQUE CHECK (length(id) = 16),  -- UUIDv7
  jig       TEXT    NOT NULL CHECK (jig <> ''),      -- serial number
  model     TEXT    NOT NULL,         -- which board it is, as the next as the jig states it
  firmware  TEXT    NOT NULL,
  simulated INTEGER NOT NULL CHECK (simulated IN (0, 1)),
  states    TEXT    NOT NULL CHECK (json_type(states) = 'object'),  -- what its identity says of how it measures and moves
  software  TEXT    NOT NULL,         -- version of padjig, as the next two of the computer
  host      TEXT    NOT NULL,
  boot_id   TEXT    NOT NULL,
  after_run INTEGER NOT NULL,         -- run.seq of the newest run then, 0: none
  by        TEXT    NOT NULL,         -- who began it
  at_us     INTEGER NOT NULL,
  hash      BLOB    NOT NULL CHECK (length(hash) = 32)
) STRICT;
-- = table commissioning_step
CREATE TABLE commissioning_step (
  seq           INTEGER PRIMARY KEY,  -- 1, 2, 3 ... without a gap
  commissioning INTEGER NOT NULL REFERENCES commissioning,
  step          TEXT    NOT NULL CHECK (step <> ''),  -- code
  outcome       TEXT    NOT NULL CHECK (outcome IN ('pass', 'fail', 'not done')),
  why           TEXT    NOT NULL CHECK (why = '' OR json_type(why) = 'array'),  -- code and arguments; empty: the figures say it
  figures       TEXT    NOT NULL CHECK (json_type(figures) = 'array'),
  by            TEXT    NOT NULL,     -- who did it
  at_us         INTEGER NOT NULL,
  hash          BLOB    NOT NULL CHECK (length(hash) = 32),
  CHECK (outcome <> 'pass' OR why = '' AND json_array_length(figures) > 0),
  CHECK (outcome = 'pass' OR why <> '' OR json_array_length(figures) > 0)
) STRICT;
-- = table program
CREATE TABLE program (
  seq         INTEGER PRIMARY KEY,    -- 1, 2, 3 ... without a gap
  version     TEXT    NOT NULL CHECK (version <> ''),  -- of a release, or devel
  commit_hash TEXT    NOT NULL,       -- of the sources; empty: not known
  modified    INTEGER NOT NULL CHECK (modified IN (0, 1)),  -- 1: built of other sources than those of the commit
  go          TEXT    NOT NULL,       -- version of Go that compiled it
  platform    TEXT    NOT NULL,       -- system and processor
  sqlite      TEXT    NOT NULL,       -- version of SQLite in it
  host        TEXT    NOT NULL,       -- computer that it ran on
  after_run   INTEGER NOT NULL,       -- run.seq of the newest run then, 0: none
  at_us       INTEGER NOT NULL,
  hash        BLOB    NOT NULL CHECK (length(hash) = 32)
) STRICT;
-- = table backup
CREATE TABLE backup (
  seq       INTEGER PRIMARY KEY,      -- 1, 2, 3 ... without a gap
  deed      TEXT    NOT NULL CHECK (deed IN ('backup', 'restore')),
  folder    TEXT    NOT NULL CHECK (folder <> ''),  -- where backups go to; of a restore the backup itself
  name      TEXT    NOT NULL,         -- of the backup in that folder; empty where none came about
  outcome   TEXT    NOT NULL CHECK (outcome IN ('whole', 'failed')),
  why       TEXT    NOT NULL,         -- it failed
  checked   TEXT    NOT NULL CHECK (checked IN ('', 'quick', 'full')),
  scheduled INTEGER NOT NULL CHECK (scheduled IN (0, 1)),
  runs      INTEGER NOT NULL,         -- run.seq of the newest run in it
  bytes     INTEGER NOT NULL,         -- of all its files
  software  TEXT    NOT NULL,         -- version of padjig
  host      TEXT    NOT NULL,
  began_us  INTEGER NOT NULL,
  at_us     INTEGER NOT NULL,         -- it ended
  hash      BLOB    NOT NULL CHECK (length(hash) = 32),
  CHECK ((outcome = 'failed') = (why <> '')),
  CHECK (outcome = 'failed' OR name <> '' AND checked <> '')
) STRICT;
-- = table outbox
CREATE TABLE outbox (
  seq  INTEGER PRIMARY KEY,            -- 1, 2, 3 ... without a gap: the order in which it is handed on
  id   BLOB    NOT NULL CHECK (length(id) = 16),   -- of the event, the same however often it is sent
  kind TEXT    NOT NULL CHECK (kind IN ('run', 'override', 'placement', 'rework', 'disposition')),
  ref  INTEGER NOT NULL                -- seq in the table that kind names; of a disposition in return_disposition
) STRICT;
-- = table hand_off
CREATE TABLE hand_off (
  seq      INTEGER PRIMARY KEY,        -- 1, 2, 3 ... without a gap
  receiver TEXT    NOT NULL CHECK (receiver <> ''),          -- name
  what     TEXT    NOT NULL CHECK (what IN ('begun', 'delivered', 'again', 'failing', 'refused', 'set aside')),
  event    INTEGER NOT NULL CHECK (event >= 0),  -- outbox.seq: the last one that it has, 0 for none; else the one concerned
  why      TEXT    NOT NULL,           -- what the receiver said, or why somebody set it aside or has it sent again
  by       TEXT    NOT NULL,           -- a person; empty: the program
  next_us  INTEGER,                    -- of failing: when it is tried again
  at_us    INTEGER NOT NULL,
  hash     BLOB    NOT NULL CHECK (length(hash) = 32),       -- SHA-256 of the other columns
  CHECK ((what = 'failing') = (next_us IS NOT NULL)),
  CHECK ((what IN ('again', 'set aside')) = (by <> '')),
  CHECK (what IN ('begun', 'delivered') OR why <> '')
) STRICT;
-- = table token
CREATE TABLE token (
  seq      INTEGER PRIMARY KEY,       -- 1, 2, 3 ... without a gap
  name     TEXT    NOT NULL CHECK (name <> ''),          -- of the program, and whoever answers for it
  secret   BLOB    NOT NULL UNIQUE CHECK (length(secret) = 32),  -- SHA-256 of the token's bits
  scopes   TEXT    NOT NULL CHECK (json_type(scopes) = 'array' AND json_array_length(scopes) > 0),
  until_us INTEGER NOT NULL,          -- good before it
  by       TEXT    NOT NULL CHECK (by <> ''),
  at_us    INTEGER NOT NULL,
  hash     BLOB    NOT NULL CHECK (length(hash) = 32)
) STRICT;
-- = table token_end
CREATE TABLE token_end (
  seq   INTEGER PRIMARY KEY,          -- 1, 2, 3 ... without a gap
  token INTEGER NOT NULL UNIQUE REFERENCES token,
  by    TEXT    NOT NULL CHECK (by <> ''),
  at_us INTEGER NOT NULL,
  hash  BLOB    NOT NULL CHECK (length(hash) = 32)
) STRICT;
-- = table token_use
CREATE TABLE token_use (
  seq   INTEGER PRIMARY KEY,          -- 1, 2, 3 ... without a gap
  token INTEGER NOT NULL REFERENCES token,
  day   TEXT    NOT NULL CHECK (day GLOB '[0-9][0-9][0-9][0-9]-[0-9][0-9]-[0-9][0-9]'),  -- of UTC, once
  hash  BLOB    NOT NULL CHECK (length(hash) = 32),
  UNIQUE (token, day)
) STRICT;
-- = table notice
CREATE TABLE notice (
  seq       INTEGER PRIMARY KEY,      -- number of the notice: 1, 2, 3 ... without a gap
  kind      TEXT    NOT NULL CHECK (kind IN ('beginning', 'key', 'release', 'return', 'account', 'lots', 'dates')),
  subject   TEXT    NOT NULL,         -- product, account, jig or reference that it is of
  body      TEXT    NOT NULL CHECK (json_type(body) = 'object'),
  issued_us INTEGER NOT NULL,         -- by the clock of the plant's office
  before    BLOB    NOT NULL CHECK (length(before) = 32),     -- hash of the notice before it
  signature BLOB    NOT NULL CHECK (length(signature) = 64),  -- Ed25519
  source    TEXT    NOT NULL,         -- at the office the table that it was made of; empty at a station
  upto      INTEGER NOT NULL,         -- at the office seq of the last row of source that is in it
  at_us     INTEGER NOT NULL,         -- it was taken, or issued
  hash      BLOB    NOT NULL CHECK (length(hash) = 32)
) STRICT;
-- = table notice_effect
CREATE TABLE notice_effect (
  seq     INTEGER PRIMARY KEY,        -- 1, 2, 3 ... without a gap
  notice  INTEGER NOT NULL UNIQUE REFERENCES notice,
  outcome TEXT    NOT NULL CHECK (outcome IN ('in force', 'not here', 'label taken')),
  at_us   INTEGER NOT NULL,
  hash    BLOB    NOT NULL CHECK (length(hash) = 32)
) STRICT;
-- = table plant_contact
CREATE TABLE plant_contact (
  one        INTEGER PRIMARY KEY CHECK (one = 1),
  count      INTEGER NOT NULL,        -- notices that there are by the newest head; 0: none was heard
  top        BLOB    NOT NULL,        -- hash of the last of them
  products   TEXT    NOT NULL CHECK (json_type(products) = 'object'),  -- number of the last notice of each
  issued_us  INTEGER NOT NULL,        -- by the clock of the plant's office
  signature  BLOB    NOT NULL,
  heard_us   INTEGER NOT NULL,        -- a newer head was heard, by the clock of this computer; 0: never
  stale_us   INTEGER NOT NULL,        -- for so long nothing need be heard before it is said
  trouble    TEXT    NOT NULL,        -- code of what is not believed; empty: nothing
  number     INTEGER NOT NULL,        -- of the notice or head that it is of
  why        TEXT    NOT NULL,
  trouble_us INTEGER NOT NULL         -- since when
) STRICT;
-- = table asked
CREATE TABLE asked (
  seq      INTEGER PRIMARY KEY,       -- 1, 2, 3 ... without a gap
  start    INTEGER NOT NULL UNIQUE REFERENCES run_start,
  answer   TEXT    NOT NULL CHECK (answer IN ('given', 'late', 'away', 'refused', 'not asked')),
  attempts INTEGER NOT NULL CHECK (attempts >= 0),  -- of other stations, counted in the number of this one
  took_us  INTEGER NOT NULL CHECK (took_us >= 0),   -- from the question to the answer, or until it was not waited for
  hash     BLOB    NOT NULL CHECK (length(hash) = 32)
) STRICT;
-- = table span
CREATE TABLE span (
  span   INTEGER PRIMARY KEY,
  level  INTEGER NOT NULL CHECK (level IN (1, 2)),   -- 1: a day of the plant, 2: a month
  detail INTEGER NOT NULL CHECK (detail IN (0, 1)),  -- 1: by all that cells are told apart by; 0: without shift, lots and operator
  begins INTEGER NOT NULL,            -- hours of UTC since 1970, as cell.hour
  ends   INTEGER NOT NULL CHECK (ends > begins),     -- the first hour that is no longer in it
  UNIQUE (level, detail, begins)
) STRICT;
-- = table span_cell
CREATE TABLE span_cell (
  span_cell INTEGER PRIMARY KEY,
  span      INTEGER NOT NULL,
  shift     INTEGER NOT NULL,
  revision  INTEGER NOT NULL REFERENCES revision,
  jig       INTEGER NOT NULL REFERENCES jig,
  lots      INTEGER NOT NULL,
  operator  TEXT    NOT NULL,
  actuation TEXT    NOT NULL,
  simulated INTEGER NOT NULL CHECK (simulated IN (0, 1)),
  purpose   TEXT    NOT NULL,
  first_run INTEGER NOT NULL,
  last_run  INTEGER NOT NULL,
  runs      INTEGER NOT NULL,
  reseat    INTEGER NOT NULL,
  incomplete INTEGER NOT NULL,
  aborted   INTEGER NOT NULL,
  units     INTEGER NOT NULL,
  first_passed INTEGER NOT NULL,
  last_passed  INTEGER NOT NULL,
  retests   INTEGER NOT NULL,
  cures     INTEGER NOT NULL,
  relapses  INTEGER NOT NULL,
  UNIQUE (span, shift, revision, jig, lots, operator, actuation, simulated, purpose)
) STRICT;
-- = table span_reading
CREATE TABLE span_reading (
  span_cell INTEGER PRIMARY KEY,
  packed    BLOB NOT NULL             -- as cell_reading.packed
) STRICT;
-- = table span_finding
CREATE TABLE span_finding (
  span_cell INTEGER NOT NULL,
  fault     INTEGER NOT NULL REFERENCES fault,
  units     INTEGER NOT NULL,
  worst     INTEGER NOT NULL,
  runs      INTEGER NOT NULL,
  PRIMARY KEY (span_cell, fault)
) STRICT, WITHOUT ROWID;
-- = rows stop_beginning
INSERT INTO stop_beginning ("seq", "after_run") VALUES (1, 0);
-- = rows fails_owe
INSERT INTO fails_owe ("seq", "after_run") VALUES (1, 0);
-- = index run_serial
CREATE INDEX run_serial ON run (serial);
-- = trigger migration_no_update
CREATE TRIGGER migration_no_update BEFORE UPDATE ON migration
BEGIN SELECT RAISE(ABORT, 'padjig: migration is append-only'); END;
-- = trigger migration_no_delete
CREATE TRIGGER migration_no_delete BEFORE DELETE ON migration
BEGIN SELECT RAISE(ABORT, 'padjig: migration is append-only'); END;
-- = trigger migration_no_replace
CREATE TRIGGER migration_no_replace BEFORE INSERT ON migration
WHEN EXISTS (SELECT 1 FROM migration WHERE version = NEW.version)
BEGIN SELECT RAISE(ABORT, 'padjig: migration is append-only'); END;
-- = trigger revision_no_update
CREATE TRIGGER revision_no_update BEFORE UPDATE ON revision
BEGIN SELECT RAISE(ABORT, 'padjig: revision is append-only'); END;
-- = trigger revision_no_delete
CREATE TRIGGER revision_no_delete BEFORE DELETE ON revision
BEGIN SELECT RAISE(ABORT, 'padjig: revision is append-only'); END;
-- = trigger revision_no_replace
CREATE TRIGGER revision_no_replace BEFORE INSERT ON revision
WHEN EXISTS (SELECT 1 FROM revision WHERE revision = NEW.revision)
  OR EXISTS (SELECT 1 FROM revision
             WHERE hash = NEW.hash AND code = NEW.code AND title = NEW.title AND label = NEW.label)
BEGIN SELECT RAISE(ABORT, 'padjig: revision is append-only'); END;
-- = trigger key_no_update
CREATE TRIGGER key_no_update BEFORE UPDATE ON key
BEGIN SELECT RAISE(ABORT, 'padjig: key is append-only'); END;
-- = trigger key_no_delete
CREATE TRIGGER key_no_delete BEFORE DELETE ON key
BEGIN SELECT RAISE(ABORT, 'padjig: key is append-only'); END;
-- = trigger key_no_replace
CREATE TRIGGER key_no_replace BEFORE INSERT ON key
WHEN EXISTS (SELECT 1 FROM key WHERE key = NEW.key)
  OR EXISTS (SELECT 1 FROM key
             WHERE revision = NEW.revision AND label = NEW.label AND line_a = NEW.line_a AND line_b = NEW.line_b)
BEGIN SELECT RAISE(ABORT, 'padjig: key is append-only'); END;
-- = trigger pin_no_update
CREATE TRIGGER pin_no_update BEFORE UPDATE ON pin
BEGIN SELECT RAISE(ABORT, 'padjig: pin is append-only'); END;
-- = trigger pin_no_delete
CREATE TRIGGER pin_no_delete BEFORE DELETE ON pin
BEGIN SELECT RAISE(ABORT, 'padjig: pin is append-only'); END;
-- = trigger pin_no_replace
CREATE TRIGGER pin_no_replace BEFORE INSERT ON pin
WHEN EXISTS (SELECT 1 FROM pin WHERE pin = NEW.pin)
  OR EXISTS (SELECT 1 FROM pin
             WHERE revision = NEW.revision AND number = NEW.number AND line = NEW.line)
BEGIN SELECT RAISE(ABORT, 'padjig: pin is append-only'); END;
-- = trigger step_no_update
CREATE TRIGGER step_no_update BEFORE UPDATE ON step
BEGIN SELECT RAISE(ABORT, 'padjig: step is append-only'); END;
-- = trigger step_no_delete
CREATE TRIGGER step_no_delete BEFORE DELETE ON step
BEGIN SELECT RAISE(ABORT, 'padjig: step is append-only'); END;
-- = trigger step_no_replace
CREATE TRIGGER step_no_replace BEFORE INSERT ON step
WHEN EXISTS (SELECT 1 FROM step WHERE step = NEW.step)
  OR EXISTS (SELECT 1 FROM step WHERE name = NEW.name)
BEGIN SELECT RAISE(ABORT, 'padjig: step is append-only'); END;
-- = trigger jig_no_update
CREATE TRIGGER jig_no_update BEFORE UPDATE ON jig
BEGIN SELECT RAISE(ABORT, 'padjig: jig is append-only'); END;
-- = trigger jig_no_delete
CREATE TRIGGER jig_no_delete BEFORE DELETE ON jig
BEGIN SELECT RAISE(ABORT, 'padjig: jig is append-only'); END;
-- = trigger jig_no_replace
CREATE TRIGGER jig_no_replace BEFORE INSERT ON jig
WHEN EXISTS (SELECT 1 FROM jig WHERE jig = NEW.jig)
  OR EXISTS (SELECT 1 FROM jig
             WHERE serial = NEW.serial AND model = NEW.model AND firmware = NEW.firmware AND adapter = NEW.adapter)
BEGIN SELECT RAISE(ABORT, 'padjig: jig is append-only'); END;
-- = trigger station_no_update
CREATE TRIGGER station_no_update BEFORE UPDATE ON station
BEGIN SELECT RAISE(ABORT, 'padjig: station is append-only'); END;
-- = trigger station_no_delete
CREATE TRIGGER station_no_delete BEFORE DELETE ON station
BEGIN SELECT RAISE(ABORT, 'padjig: station is append-only'); END;
-- = trigger station_no_replace
CREATE TRIGGER station_no_replace BEFORE INSERT ON station
WHEN EXISTS (SELECT 1 FROM station WHERE station = NEW.station)
  OR EXISTS (SELECT 1 FROM station
             WHERE host = NEW.host AND software = NEW.software AND boot_id = NEW.boot_id)
BEGIN SELECT RAISE(ABORT, 'padjig: station is append-only'); END;
-- = trigger run_no_update
CREATE TRIGGER run_no_update BEFORE UPDATE ON run
BEGIN SELECT RAISE(ABORT, 'padjig: run is append-only'); END;
-- = trigger run_no_delete
CREATE TRIGGER run_no_delete BEFORE DELETE ON run
BEGIN SELECT RAISE(ABORT, 'padjig: run is append-only'); END;
-- = trigger run_step_no_update
CREATE TRIGGER run_step_no_update BEFORE UPDATE ON run_step
BEGIN SELECT RAISE(ABORT, 'padjig: run_step is append-only'); END;
-- = trigger run_step_no_delete
CREATE TRIGGER run_step_no_delete BEFORE DELETE ON run_step
BEGIN SELECT RAISE(ABORT, 'padjig: run_step is append-only'); END;
-- = trigger run_step_no_replace
CREATE TRIGGER run_step_no_replace BEFORE INSERT ON run_step
WHEN EXISTS (SELECT 1 FROM run WHERE seq = NEW.run)
BEGIN SELECT RAISE(ABORT, 'padjig: run_step is append-only'); END;
-- = trigger run_seat_no_update
CREATE TRIGGER run_seat_no_update BEFORE UPDATE ON run_seat
BEGIN SELECT RAISE(ABORT, 'padjig: run_seat is append-only'); END;
-- = trigger run_seat_no_delete
CREATE TRIGGER run_seat_no_delete BEFORE DELETE ON run_seat
BEGIN SELECT RAISE(ABORT, 'padjig: run_seat is append-only'); END;
-- = trigger run_seat_no_replace
CREATE TRIGGER run_seat_no_replace BEFORE INSERT ON run_seat
WHEN EXISTS (SELECT 1 FROM run WHERE seq = NEW.run)
BEGIN SELECT RAISE(ABORT, 'padjig: run_seat is append-only'); END;
-- = trigger run_key_no_update
CREATE TRIGGER run_key_no_update BEFORE UPDATE ON run_key
BEGIN SELECT RAISE(ABORT, 'padjig: run_key is append-only'); END;
-- = trigger run_key_no_delete
CREATE TRIGGER run_key_no_delete BEFORE DELETE ON run_key
BEGIN SELECT RAISE(ABORT, 'padjig: run_key is append-only'); END;
-- = trigger run_key_no_replace
CREATE TRIGGER run_key_no_replace BEFORE INSERT ON run_key
WHEN EXISTS (SELECT 1 FROM run WHERE seq = NEW.run)
BEGIN SELECT RAISE(ABORT, 'padjig: run_key is append-only'); END;
-- = trigger run_pair_no_update
CREATE TRIGGER run_pair_no_update BEFORE UPDATE ON run_pair
BEGIN SELECT RAISE(ABORT, 'padjig: run_pair is append-only'); END;
-- = trigger run_pair_no_delete
CREATE TRIGGER run_pair_no_delete BEFORE DELETE ON run_pair
BEGIN SELECT RAISE(ABORT, 'padjig: run_pair is append-only'); END;
-- = trigger run_pair_no_replace
CREATE TRIGGER run_pair_no_replace BEFORE INSERT ON run_pair
WHEN EXISTS (SELECT 1 FROM run WHERE seq = NEW.run)
BEGIN SELECT RAISE(ABORT, 'padjig: run_pair is append-only'); END;
-- = trigger run_finding_no_update
CREATE TRIGGER run_finding_no_update BEFORE UPDATE ON run_finding
BEGIN SELECT RAISE(ABORT, 'padjig: run_finding is append-only'); END;
-- = trigger run_finding_no_delete
CREATE TRIGGER run_finding_no_delete BEFORE DELETE ON run_finding
BEGIN SELECT RAISE(ABORT, 'padjig: run_finding is append-only'); END;
-- = trigger run_finding_no_replace
CREATE TRIGGER run_finding_no_replace BEFORE INSERT ON run_finding
WHEN EXISTS (SELECT 1 FROM run WHERE seq = NEW.run)
BEGIN SELECT RAISE(ABORT, 'padjig: run_finding is append-only'); END;
-- = trigger run_complete
CREATE TRIGGER run_complete BEFORE INSERT ON run
WHEN NEW.steps    <> (SELECT count(*) FROM run_step    WHERE run = NEW.seq)
  OR NEW.seats    <> (SELECT count(*) FROM run_seat    WHERE run = NEW.seq)
  OR NEW.keys     <> (SELECT count(*) FROM run_key     WHERE run = NEW.seq)
  OR NEW.pairs    <> (SELECT count(*) FROM run_pair    WHERE run = NEW.seq)
  OR NEW.findings <> (SELECT count(*) FROM run_finding WHERE run = NEW.seq)
BEGIN SELECT RAISE(ABORT, 'padjig: a part of the run is missing'); END;
-- = trigger run_pass
CREATE TRIGGER run_pass BEFORE INSERT ON run
WHEN NEW.outcome = 'pass' AND (
     NEW.keys = 0
  OR NEW.findings > 0
  OR EXISTS (SELECT 1 FROM run_key  WHERE run = NEW.seq AND passed IS NOT 1)
  OR EXISTS (SELECT 1 FROM run_step WHERE run = NEW.seq AND done = 0))
BEGIN SELECT RAISE(ABORT, 'padjig: the run does not support a pass'); END;
-- = view seats
CREATE VIEW seats AS
SELECT run.seq, run.serial, run_seat.place + 1 AS place, pin.number AS pin, pin.line, good,
       loop_ohm, loop_u_ohm, loop_at_least
FROM run_seat JOIN run ON run.seq = run_seat.run JOIN pin USING (pin);
-- = view steps
CREATE VIEW steps AS
SELECT run.seq, run.serial, run_step.place + 1 AS place, step.name AS step, done, took_us / 1e3 AS took_ms
FROM run_step JOIN run ON run.seq = run_step.run JOIN step USING (step);
-- = view findings
CREATE VIEW findings AS
SELECT run.seq, run.serial, run.verdict AS outcome, jig.serial AS jig,
       strftime('%Y-%m-%dT%H:%M:%S', run.started_us / 1000000, 'unixepoch') ||
       printf('.%06dZ', run.started_us % 1000000) AS started, run_finding.place + 1 AS place, what, location, key, lines, pins,
       value, value_open, u, "limit", unit
FROM run_finding JOIN run ON run.seq = run_finding.run JOIN jig USING (jig);
-- = index calibration_jig
CREATE INDEX calibration_jig ON calibration (jig, kind);
-- = trigger calibration_no_update
CREATE TRIGGER calibration_no_update BEFORE UPDATE ON calibration
BEGIN SELECT RAISE(ABORT, 'padjig: calibration is append-only'); END;
-- = trigger calibration_no_delete
CREATE TRIGGER calibration_no_delete BEFORE DELETE ON calibration
BEGIN SELECT RAISE(ABORT, 'padjig: calibration is append-only'); END;
-- = trigger calibration_reading_no_update
CREATE TRIGGER calibration_reading_no_update BEFORE UPDATE ON calibration_reading
BEGIN SELECT RAISE(ABORT, 'padjig: calibration_reading is append-only'); END;
-- = trigger calibration_reading_no_delete
CREATE TRIGGER calibration_reading_no_delete BEFORE DELETE ON calibration_reading
BEGIN SELECT RAISE(ABORT, 'padjig: calibration_reading is append-only'); END;
-- = trigger calibration_reading_no_replace
CREATE TRIGGER calibration_reading_no_replace BEFORE INSERT ON calibration_reading
WHEN EXISTS (SELECT 1 FROM calibration WHERE seq = NEW.calibration)
BEGIN SELECT RAISE(ABORT, 'padjig: calibration_reading is append-only'); END;
-- = trigger calibration_no_replace
CREATE TRIGGER calibration_no_replace BEFORE INSERT ON calibration
WHEN NEW.seq IS NOT (SELECT coalesce(max(seq), 0) + 1 FROM calibration)
  OR EXISTS (SELECT 1 FROM calibration WHERE id = NEW.id)
BEGIN SELECT RAISE(ABORT, 'padjig: calibration is append-only'); END;
-- = trigger calibration_complete
CREATE TRIGGER calibration_complete BEFORE INSERT ON calibration
WHEN NEW.readings <> (SELECT count(*) FROM calibration_reading WHERE calibration = NEW.seq)
BEGIN SELECT RAISE(ABORT, 'padjig: a part of the calibration is missing'); END;
-- = trigger calibration_after_run
CREATE TRIGGER calibration_after_run BEFORE INSERT ON calibration
WHEN NEW.after_run IS NOT (SELECT coalesce(max(seq), 0) FROM run)
BEGIN SELECT RAISE(ABORT, 'padjig: the calibration does not follow the newest run'); END;
-- = trigger calibration_good
CREATE TRIGGER calibration_good BEFORE INSERT ON calibration
WHEN NEW.good = 1
 AND EXISTS (SELECT 1 FROM calibration_reading WHERE calibration = NEW.seq AND good = 0)
BEGIN SELECT RAISE(ABORT, 'padjig: the readings do not support a good calibration'); END;
-- = view calibrations
CREATE VIEW calibrations AS
SELECT calibration.seq,
       substr(lower(hex(id)), 1, 8) || '-' || substr(lower(hex(id)), 9, 4) || '-' ||
       substr(lower(hex(id)), 13, 4) || '-' || substr(lower(hex(id)), 17, 4) || '-' ||
       substr(lower(hex(id)), 21) AS calibration,
       kind, jig.serial AS jig, jig.model AS jig_model, jig.firmware AS jig_firmware, jig.adapter AS jig_adapter,
       simulated, operator, after_run,
       strftime('%Y-%m-%dT%H:%M:%S', performed_us / 1000000, 'unixepoch') ||
       printf('.%06dZ', performed_us % 1000000) AS performed,
       interval_us / 86400e6 AS interval_days,
       strftime('%Y-%m-%dT%H:%M:%SZ', due_us / 1000000, 'unixepoch') AS due,
       box, box_serial, certificate,
       strftime('%Y-%m-%dT%H:%M:%SZ', certificate_due_us / 1000000, 'unixepoch') AS certificate_due,
       good, reason,
       strftime('%Y-%m-%dT%H:%M:%S', saved_us / 1000000, 'unixepoch') ||
       printf('.%06dZ', saved_us % 1000000) AS saved,
       mono_ns / 1e9 AS uptime_seconds, clock_synced, station.boot_id, station.host, station.software,
       readings, lower(hex(calibration.hash)) AS hash
FROM calibration JOIN jig USING (jig) JOIN station USING (station);
-- = view calibration_readings
CREATE VIEW calibration_readings AS
SELECT calibration.seq, kind, jig.serial AS jig, calibration_reading.place + 1 AS place, channel, mate, resistor,
       reference_ohm, certified_ohm, certified_u_ohm, ohm, u_ohm, deviation_ohm, deviation_u_ohm, limit_ohm,
       calibration_reading.good
FROM calibration_reading JOIN calibration ON calibration.seq = calibration_reading.calibration JOIN jig USING (jig);
-- = index reference_check_unit
CREATE INDEX reference_check_unit ON reference_check (unit, seq);
-- = index run_jig
CREATE INDEX run_jig ON run (jig, actuation);
-- = trigger reference_check_no_update
CREATE TRIGGER reference_check_no_update BEFORE UPDATE ON reference_check
BEGIN SELECT RAISE(ABORT, 'padjig: reference_check is append-only'); END;
-- = trigger reference_check_no_delete
CREATE TRIGGER reference_check_no_delete BEFORE DELETE ON reference_check
BEGIN SELECT RAISE(ABORT, 'padjig: reference_check is append-only'); END;
-- = trigger reference_check_no_replace
CREATE TRIGGER reference_check_no_replace BEFORE INSERT ON reference_check
WHEN NEW.seq IS NOT (SELECT coalesce(max(seq), 0) + 1 FROM reference_check)
  OR EXISTS (SELECT 1 FROM reference_check WHERE run = NEW.run)
BEGIN SELECT RAISE(ABORT, 'padjig: reference_check is append-only'); END;
-- = view reference_checks
CREATE VIEW reference_checks AS
SELECT reference_check.seq, run.seq AS run_seq, jig.serial AS jig, revision.code AS product, unit, kind,
       reference_check.good, why, simulated,
       strftime('%Y-%m-%dT%H:%M:%S', started_us / 1000000, 'unixepoch') ||
       printf('.%06dZ', started_us % 1000000) AS started
FROM reference_check JOIN run ON run.seq = reference_check.run
JOIN jig USING (jig) JOIN revision USING (revision);
-- = view keys
CREATE VIEW keys AS
SELECT run.seq, run.serial, run.verdict AS outcome, jig.serial AS jig,
       strftime('%Y-%m-%dT%H:%M:%S', run.started_us / 1000000, 'unixepoch') ||
       printf('.%06dZ', run.started_us % 1000000) AS started, run.simulated,
       run_key.place + 1 AS place, key.label AS key, key.line_a, key.line_b,
       CASE passed WHEN 1 THEN 'pass' WHEN 0 THEN 'fail' ELSE 'untested' END AS verdict,
       closed_ohm, closed_u_ohm, closed_at_least,
       make_us / 1e3 AS make_ms, make_count, break_us / 1e3 AS break_ms, break_count,
       forward_uv / 1e6 AS forward_volt, forward_u_uv / 1e6 AS forward_u_volt,
       reverse_mohm / 1e3 AS reverse_ohm, reverse_u_mohm / 1e3 AS reverse_u_ohm, reverse_at_least
FROM run_key JOIN run ON run.seq = run_key.run JOIN jig USING (jig) JOIN key USING (key);
-- = view pairs
CREATE VIEW pairs AS
SELECT run.seq, run.serial, run_pair.place + 1 AS place, line_a, line_b, held,
       mohm / 1e3 AS ohm, u_mohm / 1e3 AS u_ohm, at_least,
       forward_mohm / 1e3 AS forward_ohm, forward_u_mohm / 1e3 AS forward_u_ohm, forward_at_least,
       backward_mohm / 1e3 AS backward_ohm, backward_u_mohm / 1e3 AS backward_u_ohm, backward_at_least, trend
FROM run_pair JOIN run ON run.seq = run_pair.run;
-- = index return_case_serial
CREATE INDEX return_case_serial ON return_case (serial);
-- = index return_intake_case
CREATE INDEX return_intake_case ON return_intake (return_case);
-- = index return_photo_case
CREATE INDEX return_photo_case ON return_photo (return_case);
-- = index return_diagnosis_case
CREATE INDEX return_diagnosis_case ON return_diagnosis (return_case);
-- = index return_disposition_case
CREATE INDEX return_disposition_case ON return_disposition (return_case);
-- = index rework_serial
CREATE INDEX rework_serial ON rework (serial);
-- = index run_return_case
CREATE INDEX run_return_case ON run (return_case) WHERE return_case IS NOT NULL;
-- = trigger run_exercise_no_update
CREATE TRIGGER run_exercise_no_update BEFORE UPDATE ON run_exercise
BEGIN SELECT RAISE(ABORT, 'padjig: run_exercise is append-only'); END;
-- = trigger run_exercise_no_delete
CREATE TRIGGER run_exercise_no_delete BEFORE DELETE ON run_exercise
BEGIN SELECT RAISE(ABORT, 'padjig: run_exercise is append-only'); END;
-- = trigger run_exercise_no_replace
CREATE TRIGGER run_exercise_no_replace BEFORE INSERT ON run_exercise
WHEN EXISTS (SELECT 1 FROM run WHERE seq = NEW.run)
BEGIN SELECT RAISE(ABORT, 'padjig: run_exercise is append-only'); END;
-- = trigger run_exercise_complete
CREATE TRIGGER run_exercise_complete BEFORE INSERT ON run
WHEN NEW.exercised <> (SELECT count(*) FROM run_exercise WHERE run = NEW.seq)
BEGIN SELECT RAISE(ABORT, 'padjig: a part of the run is missing'); END;
-- = trigger run_case
CREATE TRIGGER run_case BEFORE INSERT ON run
WHEN NEW.return_case IS NOT NULL
 AND NEW.serial IS NOT (SELECT serial FROM return_case WHERE seq = NEW.return_case)
BEGIN SELECT RAISE(ABORT, 'padjig: the returns case is of another unit'); END;
-- = trigger run_case_closed
CREATE TRIGGER run_case_closed BEFORE INSERT ON run
WHEN NEW.return_case IS NOT NULL AND 'reopened' <>
  (SELECT disposition FROM return_disposition WHERE return_case = NEW.return_case ORDER BY seq DESC LIMIT 1)
BEGIN SELECT RAISE(ABORT, 'padjig: the returns case is closed'); END;
-- = trigger run_case_once
CREATE TRIGGER run_case_once BEFORE INSERT ON run
WHEN NEW.purpose = 'first press' AND EXISTS
  (SELECT 1 FROM run WHERE return_case = NEW.return_case AND purpose = 'first press'
     AND outcome IN ('pass', 'fail', 'incomplete'))
BEGIN SELECT RAISE(ABORT, 'padjig: a second press is no first press'); END;
-- = trigger run_case_simulated
CREATE TRIGGER run_case_simulated BEFORE INSERT ON run
WHEN EXISTS (SELECT 1 FROM run WHERE return_case = NEW.return_case AND simulated <> NEW.simulated)
BEGIN SELECT RAISE(ABORT, 'padjig: a returns case is on simulated jigs or on real ones, not both'); END;
-- = trigger return_case_no_update
CREATE TRIGGER return_case_no_update BEFORE UPDATE ON return_case
BEGIN SELECT RAISE(ABORT, 'padjig: return_case is append-only'); END;
-- = trigger return_case_no_delete
CREATE TRIGGER return_case_no_delete BEFORE DELETE ON return_case
BEGIN SELECT RAISE(ABORT, 'padjig: return_case is append-only'); END;
-- = trigger return_case_no_replace
CREATE TRIGGER return_case_no_replace BEFORE INSERT ON return_case
WHEN NEW.seq IS NOT (SELECT coalesce(max(seq), 0) + 1 FROM return_case)
  OR EXISTS (SELECT 1 FROM return_case WHERE id = NEW.id)
BEGIN SELECT RAISE(ABORT, 'padjig: return_case is append-only'); END;
-- = trigger return_intake_no_update
CREATE TRIGGER return_intake_no_update BEFORE UPDATE ON return_intake
BEGIN SELECT RAISE(ABORT, 'padjig: return_intake is append-only'); END;
-- = trigger return_intake_no_delete
CREATE TRIGGER return_intake_no_delete BEFORE DELETE ON return_intake
BEGIN SELECT RAISE(ABORT, 'padjig: return_intake is append-only'); END;
-- = trigger return_intake_no_replace
CREATE TRIGGER return_intake_no_replace BEFORE INSERT ON return_intake
WHEN NEW.seq IS NOT (SELECT coalesce(max(seq), 0) + 1 FROM return_intake)
BEGIN SELECT RAISE(ABORT, 'padjig: return_intake is append-only'); END;
-- = trigger return_photo_no_update
CREATE TRIGGER return_photo_no_update BEFORE UPDATE ON return_photo
BEGIN SELECT RAISE(ABORT, 'padjig: return_photo is append-only'); END;
-- = trigger return_photo_no_delete
CREATE TRIGGER return_photo_no_delete BEFORE DELETE ON return_photo
BEGIN SELECT RAISE(ABORT, 'padjig: return_photo is append-only'); END;
-- = trigger return_photo_no_replace
CREATE TRIGGER return_photo_no_replace BEFORE INSERT ON return_photo
WHEN NEW.seq IS NOT (SELECT coalesce(max(seq), 0) + 1 FROM return_photo)
BEGIN SELECT RAISE(ABORT, 'padjig: return_photo is append-only'); END;
-- = trigger return_diagnosis_no_update
CREATE TRIGGER return_diagnosis_no_update BEFORE UPDATE ON return_diagnosis
BEGIN SELECT RAISE(ABORT, 'padjig: return_diagnosis is append-only'); END;
-- = trigger return_diagnosis_no_delete
CREATE TRIGGER return_diagnosis_no_delete BEFORE DELETE ON return_diagnosis
BEGIN SELECT RAISE(ABORT, 'padjig: return_diagnosis is append-only'); END;
-- = trigger return_diagnosis_no_replace
CREATE TRIGGER return_diagnosis_no_replace BEFORE INSERT ON return_diagnosis
WHEN NEW.seq IS NOT (SELECT coalesce(max(seq), 0) + 1 FROM return_diagnosis)
BEGIN SELECT RAISE(ABORT, 'padjig: return_diagnosis is append-only'); END;
-- = trigger return_disposition_no_update
CREATE TRIGGER return_disposition_no_update BEFORE UPDATE ON return_disposition
BEGIN SELECT RAISE(ABORT, 'padjig: return_disposition is append-only'); END;
-- = trigger return_disposition_no_delete
CREATE TRIGGER return_disposition_no_delete BEFORE DELETE ON return_disposition
BEGIN SELECT RAISE(ABORT, 'padjig: return_disposition is append-only'); END;
-- = trigger return_disposition_no_replace
CREATE TRIGGER return_disposition_no_replace BEFORE INSERT ON return_disposition
WHEN NEW.seq IS NOT (SELECT coalesce(max(seq), 0) + 1 FROM return_disposition)
BEGIN SELECT RAISE(ABORT, 'padjig: return_disposition is append-only'); END;
-- = trigger rework_no_update
CREATE TRIGGER rework_no_update BEFORE UPDATE ON rework
BEGIN SELECT RAISE(ABORT, 'padjig: rework is append-only'); END;
-- = trigger rework_no_delete
CREATE TRIGGER rework_no_delete BEFORE DELETE ON rework
BEGIN SELECT RAISE(ABORT, 'padjig: rework is append-only'); END;
-- = trigger rework_no_replace
CREATE TRIGGER rework_no_replace BEFORE INSERT ON rework
WHEN NEW.seq IS NOT (SELECT coalesce(max(seq), 0) + 1 FROM rework)
BEGIN SELECT RAISE(ABORT, 'padjig: rework is append-only'); END;
-- = trigger run_no_replace
CREATE TRIGGER run_no_replace BEFORE INSERT ON run
WHEN NEW.seq IS NOT (SELECT coalesce(max(seq), 0) + 1 FROM run)
  OR EXISTS (SELECT 1 FROM run WHERE id = NEW.id)
BEGIN SELECT RAISE(ABORT, 'padjig: run is append-only'); END;
-- = view runs
CREATE VIEW runs AS
SELECT run.seq,
       substr(lower(hex(id)), 1, 8) || '-' || substr(lower(hex(id)), 9, 4) || '-' ||
       substr(lower(hex(id)), 13, 4) || '-' || substr(lower(hex(id)), 17, 4) || '-' ||
       substr(lower(hex(id)), 21) AS run,
       run.serial, revision.code AS product, revision.label AS revision, revision.hash AS revision_hash,
       verdict AS outcome, reason, attempt, simulated, actuation, operator,
       strftime('%Y-%m-%dT%H:%M:%S', started_us / 1000000, 'unixepoch') ||
       printf('.%06dZ', started_us % 1000000) AS started,
       duration_us / 1e6 AS seconds,
       strftime('%Y-%m-%dT%H:%M:%S', saved_us / 1000000, 'unixepoch') ||
       printf('.%06dZ', saved_us % 1000000) AS saved,
       mono_ns / 1e9 AS uptime_seconds, clock_synced, station.boot_id, station.host, station.software,
       jig.serial AS jig, jig.model AS jig_model, jig.firmware AS jig_firmware, jig.adapter AS jig_adapter,
       keys, pairs, findings, lower(hex(run.hash)) AS hash,
       purpose, return_case
FROM run JOIN revision USING (revision) JOIN jig USING (jig) JOIN station USING (station);
-- = view exercises
CREATE VIEW exercises AS
SELECT run.seq, run.serial, run.verdict AS outcome, run.simulated, run_exercise.place + 1 AS place, key.label AS key,
       presses, misses, high, sticks, first_bad,
       least_ohm, least_u_ohm,
       most_ohm, most_u_ohm,
       make_us / 1e3 AS make_ms, break_us / 1e3 AS break_ms,
       held_us / 1e6 AS held_seconds, held_opened, held_longest_us / 1e3 AS held_longest_ms, held_more,
       flexed_us / 1e6 AS flexed_seconds, flexed_opened, flexed_longest_us / 1e3 AS flexed_longest_ms, flexed_more
FROM run_exercise JOIN run ON run.seq = run_exercise.run JOIN key USING (key);
-- = view return_cases
CREATE VIEW return_cases AS
SELECT return_case.seq AS number,
       substr(lower(hex(return_case.id)), 1, 8) || '-' || substr(lower(hex(return_case.id)), 9, 4) || '-' ||
       substr(lower(hex(return_case.id)), 13, 4) || '-' || substr(lower(hex(return_case.id)), 17, 4) || '-' ||
       substr(lower(hex(return_case.id)), 21) AS return_case,
       serial, product, complaint, complaint_text, conditions, condition_text, ends_testing, customer, lot,
       strftime('%Y-%m-%dT%H:%M:%S', received_us / 1000000, 'unixepoch') ||
       printf('.%06dZ', received_us % 1000000) AS received,
       return_case.by AS opened_by,
       strftime('%Y-%m-%dT%H:%M:%S', return_case.at_us / 1000000, 'unixepoch') ||
       printf('.%06dZ', return_case.at_us % 1000000) AS opened,
       coalesce((SELECT disposition FROM return_disposition WHERE return_disposition.return_case = return_case.seq
                 ORDER BY return_disposition.seq DESC LIMIT 1), 'open') AS disposition,
       (SELECT count(*) FROM return_photo WHERE return_photo.return_case = return_case.seq) AS photos,
       lower(hex(return_case.hash)) AS hash
FROM return_case JOIN return_intake ON return_intake.seq =
  (SELECT max(seq) FROM return_intake WHERE return_intake.return_case = return_case.seq);
-- = view return_intakes
CREATE VIEW return_intakes AS
SELECT seq, return_case AS number, strftime('%Y-%m-%dT%H:%M:%S', received_us / 1000000, 'unixepoch') ||
       printf('.%06dZ', received_us % 1000000) AS received,
       complaint, complaint_text, conditions, condition_text, ends_testing, customer, lot, by,
       strftime('%Y-%m-%dT%H:%M:%S', at_us / 1000000, 'unixepoch') ||
       printf('.%06dZ', at_us % 1000000) AS at
FROM return_intake;
-- = view return_stages
CREATE VIEW return_stages AS
SELECT return_case AS number, run.seq, run.serial, purpose AS stage, verdict AS outcome, findings, simulated,
       (SELECT what || ': ' || location FROM run_finding WHERE run = run.seq AND place = 0) AS worst,
       strftime('%Y-%m-%dT%H:%M:%S', started_us / 1000000, 'unixepoch') ||
       printf('.%06dZ', started_us % 1000000) AS started
FROM run WHERE return_case IS NOT NULL;
-- = view return_photos
CREATE VIEW return_photos AS
SELECT seq, return_case AS number, lower(hex(sha256)) AS sha256,
       substr(lower(hex(sha256)), 1, 2) || '/' || substr(lower(hex(sha256)), 3) AS file,
       bytes, content_type, name, note, by, strftime('%Y-%m-%dT%H:%M:%S', at_us / 1000000, 'unixepoch') ||
       printf('.%06dZ', at_us % 1000000) AS at
FROM return_photo;
-- = view return_diagnoses
CREATE VIEW return_diagnoses AS
SELECT seq, return_case AS number, run, causes, software, strftime('%Y-%m-%dT%H:%M:%S', at_us / 1000000, 'unixepoch') ||
       printf('.%06dZ', at_us % 1000000) AS at
FROM return_diagnosis;
-- = view return_dispositions
CREATE VIEW return_dispositions AS
SELECT seq, return_case AS number, disposition, reason, by, strftime('%Y-%m-%dT%H:%M:%S', at_us / 1000000, 'unixepoch') ||
       printf('.%06dZ', at_us % 1000000) AS at
FROM return_disposition;
-- = index lot_change_jig
CREATE INDEX lot_change_jig ON lot_change (jig, product, simulated, seq);
-- = index baseline_subject
CREATE INDEX baseline_subject ON baseline (subject, simulated, seq);
-- = trigger lot_change_no_update
CREATE TRIGGER lot_change_no_update BEFORE UPDATE ON lot_change
BEGIN SELECT RAISE(ABORT, 'padjig: lot_change is append-only'); END;
-- = trigger lot_change_no_delete
CREATE TRIGGER lot_change_no_delete BEFORE DELETE ON lot_change
BEGIN SELECT RAISE(ABORT, 'padjig: lot_change is append-only'); END;
-- = trigger lot_change_no_replace
CREATE TRIGGER lot_change_no_replace BEFORE INSERT ON lot_change
WHEN NEW.seq IS NOT (SELECT coalesce(max(seq), 0) + 1 FROM lot_change)
BEGIN SELECT RAISE(ABORT, 'padjig: lot_change is append-only'); END;
-- = trigger shift_no_update
CREATE TRIGGER shift_no_update BEFORE UPDATE ON shift
BEGIN SELECT RAISE(ABORT, 'padjig: shift is append-only'); END;
-- = trigger shift_no_delete
CREATE TRIGGER shift_no_delete BEFORE DELETE ON shift
BEGIN SELECT RAISE(ABORT, 'padjig: shift is append-only'); END;
-- = trigger shift_no_replace
CREATE TRIGGER shift_no_replace BEFORE INSERT ON shift
WHEN NEW.shift IS NOT (SELECT coalesce(max(shift), 0) + 1 FROM shift)
  OR EXISTS (SELECT 1 FROM shift WHERE plan = NEW.plan AND name = NEW.name)
BEGIN SELECT RAISE(ABORT, 'padjig: shift is append-only'); END;
-- = trigger baseline_no_update
CREATE TRIGGER baseline_no_update BEFORE UPDATE ON baseline
BEGIN SELECT RAISE(ABORT, 'padjig: baseline is append-only'); END;
-- = trigger baseline_no_delete
CREATE TRIGGER baseline_no_delete BEFORE DELETE ON baseline
BEGIN SELECT RAISE(ABORT, 'padjig: baseline is append-only'); END;
-- = trigger baseline_no_replace
CREATE TRIGGER baseline_no_replace BEFORE INSERT ON baseline
WHEN NEW.seq IS NOT (SELECT coalesce(max(seq), 0) + 1 FROM baseline)
BEGIN SELECT RAISE(ABORT, 'padjig: baseline is append-only'); END;
-- = trigger fault_no_update
CREATE TRIGGER fault_no_update BEFORE UPDATE ON fault
BEGIN SELECT RAISE(ABORT, 'padjig: fault is append-only'); END;
-- = trigger fault_no_delete
CREATE TRIGGER fault_no_delete BEFORE DELETE ON fault
BEGIN SELECT RAISE(ABORT, 'padjig: fault is append-only'); END;
-- = trigger fault_no_replace
CREATE TRIGGER fault_no_replace BEFORE INSERT ON fault
WHEN EXISTS (SELECT 1 FROM fault WHERE fault = NEW.fault)
  OR EXISTS (SELECT 1 FROM fault WHERE what = NEW.what AND location = NEW.location AND key = NEW.key
               AND lines = NEW.lines AND pins = NEW.pins)
BEGIN SELECT RAISE(ABORT, 'padjig: fault is append-only'); END;
-- = view lot_changes
CREATE VIEW lot_changes AS
SELECT seq, jig, product, simulated, membrane, dome, board, consumables, after_run, by,
       strftime('%Y-%m-%dT%H:%M:%S', at_us / 1000000, 'unixepoch') ||
       printf('.%06dZ', at_us % 1000000) AS at
FROM lot_change;
-- = view line_hours
CREATE VIEW line_hours AS
SELECT strftime('%Y-%m-%dT%H:%M:%SZ', hour * 3600, 'unixepoch') AS hour,
       coalesce(shift.name, '') AS shift, revision.code AS product, revision.label AS revision,
       jig.serial AS jig, coalesce(membrane, '') AS membrane, coalesce(dome, '') AS dome,
       coalesce(board, '') AS board, coalesce(consumables, '') AS consumables,
       cell.operator, cell.actuation, cell.simulated, cell.purpose, runs, reseat, incomplete, aborted,
       units, first_passed, last_passed, retests, cures, relapses
FROM cell JOIN revision USING (revision) JOIN jig USING (jig)
LEFT JOIN shift ON shift.shift = cell.shift
LEFT JOIN lot_change ON lot_change.seq = cell.lots;
-- = index account_event_secret
CREATE INDEX account_event_secret ON account_event (secret) WHERE kind = 'badge';
-- = index release_code
CREATE INDEX release_code ON release (code, seq);
-- = trigger account_event_no_update
CREATE TRIGGER account_event_no_update BEFORE UPDATE ON account_event
BEGIN SELECT RAISE(ABORT, 'padjig: account_event is append-only'); END;
-- = trigger account_event_no_delete
CREATE TRIGGER account_event_no_delete BEFORE DELETE ON account_event
BEGIN SELECT RAISE(ABORT, 'padjig: account_event is append-only'); END;
-- = trigger account_event_no_replace
CREATE TRIGGER account_event_no_replace BEFORE INSERT ON account_event
WHEN NEW.seq IS NOT (SELECT coalesce(max(seq), 0) + 1 FROM account_event)
BEGIN SELECT RAISE(ABORT, 'padjig: account_event is append-only'); END;
-- = trigger session_no_update
CREATE TRIGGER session_no_update BEFORE UPDATE ON session
BEGIN SELECT RAISE(ABORT, 'padjig: session is append-only'); END;
-- = trigger session_no_delete
CREATE TRIGGER session_no_delete BEFORE DELETE ON session
BEGIN SELECT RAISE(ABORT, 'padjig: session is append-only'); END;
-- = trigger session_no_replace
CREATE TRIGGER session_no_replace BEFORE INSERT ON session
WHEN NEW.seq IS NOT (SELECT coalesce(max(seq), 0) + 1 FROM session)
  OR EXISTS (SELECT 1 FROM session WHERE hash = NEW.hash)
BEGIN SELECT RAISE(ABORT, 'padjig: session is append-only'); END;
-- = trigger session_end_no_update
CREATE TRIGGER session_end_no_update BEFORE UPDATE ON session_end
BEGIN SELECT RAISE(ABORT, 'padjig: session_end is append-only'); END;
-- = trigger session_end_no_delete
CREATE TRIGGER session_end_no_delete BEFORE DELETE ON session_end
BEGIN SELECT RAISE(ABORT, 'padjig: session_end is append-only'); END;
-- = trigger session_end_no_replace
CREATE TRIGGER session_end_no_replace BEFORE INSERT ON session_end
WHEN EXISTS (SELECT 1 FROM session_end WHERE session = NEW.session)
BEGIN SELECT RAISE(ABORT, 'padjig: session_end is append-only'); END;
-- = trigger override_no_update
CREATE TRIGGER override_no_update BEFORE UPDATE ON override
BEGIN SELECT RAISE(ABORT, 'padjig: override is append-only'); END;
-- = trigger override_no_delete
CREATE TRIGGER override_no_delete BEFORE DELETE ON override
BEGIN SELECT RAISE(ABORT, 'padjig: override is append-only'); END;
-- = trigger override_no_replace
CREATE TRIGGER override_no_replace BEFORE INSERT ON override
WHEN NEW.seq IS NOT (SELECT coalesce(max(seq), 0) + 1 FROM override)
BEGIN SELECT RAISE(ABORT, 'padjig: override is append-only'); END;
-- = trigger release_no_update
CREATE TRIGGER release_no_update BEFORE UPDATE ON release
BEGIN SELECT RAISE(ABORT, 'padjig: release is append-only'); END;
-- = trigger release_no_delete
CREATE TRIGGER release_no_delete BEFORE DELETE ON release
BEGIN SELECT RAISE(ABORT, 'padjig: release is append-only'); END;
-- = trigger release_no_replace
CREATE TRIGGER release_no_replace BEFORE INSERT ON release
WHEN NEW.seq IS NOT (SELECT coalesce(max(seq), 0) + 1 FROM release)
BEGIN SELECT RAISE(ABORT, 'padjig: release is append-only'); END;
-- = trigger gauge_study_no_update
CREATE TRIGGER gauge_study_no_update BEFORE UPDATE ON gauge_study
BEGIN SELECT RAISE(ABORT, 'padjig: gauge_study is append-only'); END;
-- = trigger gauge_study_no_delete
CREATE TRIGGER gauge_study_no_delete BEFORE DELETE ON gauge_study
BEGIN SELECT RAISE(ABORT, 'padjig: gauge_study is append-only'); END;
-- = trigger gauge_study_no_replace
CREATE TRIGGER gauge_study_no_replace BEFORE INSERT ON gauge_study
WHEN NEW.seq IS NOT (SELECT coalesce(max(seq), 0) + 1 FROM gauge_study)
BEGIN SELECT RAISE(ABORT, 'padjig: gauge_study is append-only'); END;
-- = trigger gauge_reading_no_update
CREATE TRIGGER gauge_reading_no_update BEFORE UPDATE ON gauge_reading
BEGIN SELECT RAISE(ABORT, 'padjig: gauge_reading is append-only'); END;
-- = trigger gauge_reading_no_delete
CREATE TRIGGER gauge_reading_no_delete BEFORE DELETE ON gauge_reading
BEGIN SELECT RAISE(ABORT, 'padjig: gauge_reading is append-only'); END;
-- = trigger gauge_reading_no_replace
CREATE TRIGGER gauge_reading_no_replace BEFORE INSERT ON gauge_reading
WHEN NEW.seq IS NOT (SELECT coalesce(max(seq), 0) + 1 FROM gauge_reading)
  OR EXISTS (SELECT 1 FROM gauge_reading WHERE run = NEW.run OR (study = NEW.study AND place = NEW.place))
BEGIN SELECT RAISE(ABORT, 'padjig: gauge_reading is append-only'); END;
-- = trigger gauge_reading_of_study
CREATE TRIGGER gauge_reading_of_study BEFORE INSERT ON gauge_reading
WHEN NOT EXISTS
  (SELECT 1 FROM run JOIN gauge_study ON gauge_study.seq = NEW.study JOIN jig USING (jig)
   JOIN revision AS tested ON tested.revision = run.revision
   JOIN revision AS planned ON planned.revision = gauge_study.revision
   WHERE run.seq = NEW.run AND run.purpose = 'gauge study' AND tested.hash = planned.hash
     AND run.outcome IN ('pass', 'fail')
     AND run.serial = parts ->> ('$[' || (plan ->> ('$[' || NEW.place || '][0]')) || ']')
     AND iif(across = 'jig', jig.serial, run.operator)
         = appraisers ->> ('$[' || (plan ->> ('$[' || NEW.place || '][1]')) || ']'))
BEGIN SELECT RAISE(ABORT, 'padjig: the run is not the reading that the study plans at this place'); END;
-- = trigger gauge_reading_one_kind
CREATE TRIGGER gauge_reading_one_kind BEFORE INSERT ON gauge_reading
WHEN EXISTS
  (SELECT 1 FROM gauge_reading JOIN run ON run.seq = gauge_reading.run
   WHERE study = NEW.study AND simulated <> (SELECT simulated FROM run WHERE seq = NEW.run))
BEGIN SELECT RAISE(ABORT, 'padjig: a gauge study holds simulated readings or real ones, not both'); END;
-- = view gauge_studies
CREATE VIEW gauge_studies AS
SELECT gauge_study.seq AS number, code AS product, label AS revision, across, parts, appraisers, repeats,
       json_array_length(plan) AS planned,
       (SELECT count(*) FROM gauge_reading WHERE study = gauge_study.seq) AS measured,
       seed, note, by, strftime('%Y-%m-%dT%H:%M:%S', at_us / 1000000, 'unixepoch') ||
       printf('.%06dZ', at_us % 1000000) AS at
FROM gauge_study JOIN revision USING (revision);
-- = view gauge_readings
CREATE VIEW gauge_readings AS
SELECT gauge_reading.seq, study AS number, place + 1 AS place, run.serial AS part,
       iif(across = 'jig', jig.serial, run.operator) AS appraiser,
       plan ->> ('$[' || place || '][2]') + 1 AS repeat, run.seq AS run_seq, outcome, simulated
FROM gauge_reading JOIN gauge_study ON gauge_study.seq = study JOIN run ON run.seq = gauge_reading.run JOIN jig USING (jig);
-- = index handover_shift
CREATE INDEX handover_shift ON handover (day, shift);
-- = trigger handover_no_update
CREATE TRIGGER handover_no_update BEFORE UPDATE ON handover
BEGIN SELECT RAISE(ABORT, 'padjig: handover is append-only'); END;
-- = trigger handover_no_delete
CREATE TRIGGER handover_no_delete BEFORE DELETE ON handover
BEGIN SELECT RAISE(ABORT, 'padjig: handover is append-only'); END;
-- = trigger handover_no_replace
CREATE TRIGGER handover_no_replace BEFORE INSERT ON handover
WHEN NEW.seq IS NOT (SELECT coalesce(max(seq), 0) + 1 FROM handover)
BEGIN SELECT RAISE(ABORT, 'padjig: handover is append-only'); END;
-- = index run_start_serial
CREATE INDEX run_start_serial ON run_start (serial);
-- = index run_start_case
CREATE INDEX run_start_case ON run_start (return_case) WHERE return_case IS NOT NULL;
-- = trigger run_start_no_update
CREATE TRIGGER run_start_no_update BEFORE UPDATE ON run_start
BEGIN SELECT RAISE(ABORT, 'padjig: run_start is append-only'); END;
-- = trigger run_start_no_delete
CREATE TRIGGER run_start_no_delete BEFORE DELETE ON run_start
BEGIN SELECT RAISE(ABORT, 'padjig: run_start is append-only'); END;
-- = trigger run_start_no_replace
CREATE TRIGGER run_start_no_replace BEFORE INSERT ON run_start
WHEN NEW.seq IS NOT (SELECT coalesce(max(seq), 0) + 1 FROM run_start)
  OR EXISTS (SELECT 1 FROM run_start WHERE id = NEW.id)
BEGIN SELECT RAISE(ABORT, 'padjig: run_start is append-only'); END;
-- = trigger run_unfinished_no_update
CREATE TRIGGER run_unfinished_no_update BEFORE UPDATE ON run_unfinished
BEGIN SELECT RAISE(ABORT, 'padjig: run_unfinished is append-only'); END;
-- = trigger run_unfinished_no_delete
CREATE TRIGGER run_unfinished_no_delete BEFORE DELETE ON run_unfinished
BEGIN SELECT RAISE(ABORT, 'padjig: run_unfinished is append-only'); END;
-- = trigger run_unfinished_no_replace
CREATE TRIGGER run_unfinished_no_replace BEFORE INSERT ON run_unfinished
WHEN NEW.seq IS NOT (SELECT coalesce(max(seq), 0) + 1 FROM run_unfinished)
  OR EXISTS (SELECT 1 FROM run_unfinished WHERE start = NEW.start)
BEGIN SELECT RAISE(ABORT, 'padjig: run_unfinished is append-only'); END;
-- = index run_of_start
CREATE UNIQUE INDEX run_of_start ON run (start) WHERE start IS NOT NULL;
-- = trigger run_start_once
CREATE TRIGGER run_start_once BEFORE INSERT ON run
WHEN EXISTS (SELECT 1 FROM run WHERE start = NEW.start)
BEGIN SELECT RAISE(ABORT, 'padjig: run is append-only'); END;
-- = trigger run_start_same
CREATE TRIGGER run_start_same BEFORE INSERT ON run
WHEN NEW.start IS NOT NULL AND NOT EXISTS
  (SELECT 1 FROM run_start WHERE seq = NEW.start AND serial = NEW.serial AND revision = NEW.revision AND jig = NEW.jig
     AND simulated = NEW.simulated AND purpose = NEW.purpose AND return_case IS NEW.return_case AND attempt = NEW.attempt)
BEGIN SELECT RAISE(ABORT, 'padjig: the run is not the one that was started'); END;
-- = trigger run_unfinished_open
CREATE TRIGGER run_unfinished_open BEFORE INSERT ON run_unfinished
WHEN EXISTS (SELECT 1 FROM run WHERE start = NEW.start)
BEGIN SELECT RAISE(ABORT, 'padjig: the start has its run'); END;
-- = view starts
CREATE VIEW starts AS
SELECT run_start.seq,
       substr(lower(hex(run_start.id)), 1, 8) || '-' || substr(lower(hex(run_start.id)), 9, 4) || '-' ||
       substr(lower(hex(run_start.id)), 13, 4) || '-' || substr(lower(hex(run_start.id)), 17, 4) || '-' ||
       substr(lower(hex(run_start.id)), 21) AS start,
       run_start.serial, revision.code AS product, revision.label AS revision, run_start.attempt, run_start.simulated,
       run_start.actuation, run_start.operator, run_start.purpose, run_start.return_case, station.host,
       jig.serial AS jig, run_start.after_run,
       strftime('%Y-%m-%dT%H:%M:%S', run_start.started_us / 1000000, 'unixepoch') ||
       printf('.%06dZ', run_start.started_us % 1000000) AS started,
       run.seq AS run_seq, run_unfinished.seq IS NOT NULL AND run.seq IS NULL AS unfinished,
       lower(hex(run_start.hash)) AS hash
FROM run_start JOIN revision ON revision.revision = run_start.revision JOIN jig ON jig.jig = run_start.jig
JOIN station ON station.station = run_start.station
LEFT JOIN run ON run.start = run_start.seq LEFT JOIN run_unfinished ON run_unfinished.start = run_start.seq;
-- = trigger run_electrical
CREATE TRIGGER run_electrical BEFORE INSERT ON run
WHEN NEW.actuation = 'electrical' AND (NEW.outcome = 'pass' OR NEW.return_case IS NOT NULL)
BEGIN SELECT RAISE(ABORT, 'padjig: without a key pressed a unit has not passed, nor a stage of a returns case been made'); END;
-- = trigger run_harness
CREATE TRIGGER run_harness BEFORE INSERT ON run
WHEN NEW.outcome = 'harness good' AND (
     NEW.actuation <> 'electrical'
  OR NEW.keys = 0
  OR NEW.findings > 0
  OR EXISTS (SELECT 1 FROM run_key  WHERE run = NEW.seq AND passed IS NOT NULL)
  OR EXISTS (SELECT 1 FROM run_step WHERE run = NEW.seq AND done = 0))
BEGIN SELECT RAISE(ABORT, 'padjig: the run does not support a good harness'); END;
-- = trigger run_case_order
CREATE TRIGGER run_case_order BEFORE INSERT ON run
WHEN NEW.purpose IN ('return test', 'exercise') AND NOT EXISTS
  (SELECT 1 FROM run WHERE return_case = NEW.return_case AND verdict IN ('pass', 'fail', 'incomplete')
     AND purpose = iif(NEW.purpose = 'exercise', 'return test', 'first press'))
BEGIN SELECT RAISE(ABORT, 'padjig: the stage of the returns case before this one is missing'); END;
-- = trigger revision_label
CREATE TRIGGER revision_label BEFORE INSERT ON revision
WHEN EXISTS (SELECT 1 FROM (SELECT label, hash FROM revision WHERE code = NEW.code
                            UNION ALL SELECT label, hash FROM release WHERE code = NEW.code)
             WHERE hash <> NEW.hash
               AND lower(replace(replace(replace(label,     ' ', ''), char(9), ''), char(160), ''))
                 = lower(replace(replace(replace(NEW.label, ' ', ''), char(9), ''), char(160), '')))
BEGIN SELECT RAISE(ABORT, 'padjig: the revision label is known with another definition'); END;
-- = trigger release_label
CREATE TRIGGER release_label BEFORE INSERT ON release
WHEN EXISTS (SELECT 1 FROM (SELECT label, hash FROM revision WHERE code = NEW.code
                            UNION ALL SELECT label, hash FROM release WHERE code = NEW.code)
             WHERE hash <> NEW.hash
               AND lower(replace(replace(replace(label,     ' ', ''), char(9), ''), char(160), ''))
                 = lower(replace(replace(replace(NEW.label, ' ', ''), char(9), ''), char(160), '')))
BEGIN SELECT RAISE(ABORT, 'padjig: the revision label is known with another definition'); END;
-- = index sign_in_from
CREATE INDEX sign_in_from ON sign_in (name, address) WHERE outcome = 'in';
-- = trigger sign_in_no_update
CREATE TRIGGER sign_in_no_update BEFORE UPDATE ON sign_in
BEGIN SELECT RAISE(ABORT, 'padjig: sign_in is append-only'); END;
-- = trigger sign_in_no_delete
CREATE TRIGGER sign_in_no_delete BEFORE DELETE ON sign_in
BEGIN SELECT RAISE(ABORT, 'padjig: sign_in is append-only'); END;
-- = trigger sign_in_no_replace
CREATE TRIGGER sign_in_no_replace BEFORE INSERT ON sign_in
WHEN NEW.seq IS NOT (SELECT coalesce(max(seq), 0) + 1 FROM sign_in)
BEGIN SELECT RAISE(ABORT, 'padjig: sign_in is append-only'); END;
-- = view run_lots
CREATE VIEW run_lots AS
SELECT held.seq, held.serial, held.product, held.jig, held.simulated, held.started,
       lot.key AS material, lot.value AS lot, held.change AS lot_change
FROM (SELECT run.seq, run.serial, revision.code AS product, jig.serial AS jig, run.simulated,
             strftime('%Y-%m-%dT%H:%M:%S', run.started_us / 1000000, 'unixepoch') ||
             printf('.%06dZ', run.started_us % 1000000) AS started,
             (SELECT max(lot_change.seq) FROM lot_change
              WHERE lot_change.jig = jig.serial AND lot_change.product = revision.code
                AND lot_change.simulated = run.simulated AND lot_change.after_run < run.seq) AS change
      FROM run JOIN revision USING (revision) JOIN jig USING (jig)) AS held
JOIN lot_change ON lot_change.seq = held.change,
     json_each(json_object('membrane', membrane, 'dome', dome, 'board', board, 'consumables', consumables)) AS lot
WHERE lot.value <> '';
-- = view key_limits
CREATE VIEW key_limits AS
SELECT DISTINCT revision.code AS product, revision.label AS revision, revision.hash AS revision_hash,
       one.key + 1 AS place, one.value ->> '$.label' AS key,
       one.value ->> '$.lines[0]' AS line_a, one.value ->> '$.lines[1]' AS line_b,
       coalesce(one.value ->> '$.group', '') AS "group", (one.value ->> '$.actuator') + 1 AS actuator,
       (one.value ->> '$.limits.closed_ohm[0]') + 0.0 AS closed_min_ohm,
       (one.value ->> '$.limits.closed_ohm[1]') + 0.0 AS closed_max_ohm,
       (one.value ->> '$.limits.rest_ohm') + 0.0 AS rest_min_ohm,
       1e3 * (one.value ->> '$.limits.make_s') AS make_max_ms,
       1e3 * (one.value ->> '$.limits.break_s') AS break_max_ms,
       (one.value ->> '$.limits.diode_v[0]') + 0.0 AS forward_min_volt,
       (one.value ->> '$.limits.diode_v[1]') + 0.0 AS forward_max_volt,
       (one.value ->> '$.limits.guard_u') + 0.0 AS guard_u
FROM revision, json_each(revision.definition, '$.keys') AS one;
-- = index nest_empty_jig
CREATE INDEX nest_empty_jig ON nest_empty (jig, simulated, after_start);
-- = index run_start_jig
CREATE INDEX run_start_jig ON run_start (jig, simulated);
-- = trigger nest_count_no_update
CREATE TRIGGER nest_count_no_update BEFORE UPDATE ON nest_count
BEGIN SELECT RAISE(ABORT, 'padjig: nest_count is append-only'); END;
-- = trigger nest_count_no_delete
CREATE TRIGGER nest_count_no_delete BEFORE DELETE ON nest_count
BEGIN SELECT RAISE(ABORT, 'padjig: nest_count is append-only'); END;
-- = trigger nest_count_no_replace
CREATE TRIGGER nest_count_no_replace BEFORE INSERT ON nest_count
WHEN NEW.seq IS NOT (SELECT coalesce(max(seq), 0) + 1 FROM nest_count)
  OR EXISTS (SELECT 1 FROM nest_count WHERE start = NEW.start AND moment = NEW.moment)
BEGIN SELECT RAISE(ABORT, 'padjig: nest_count is append-only'); END;
-- = trigger nest_empty_no_update
CREATE TRIGGER nest_empty_no_update BEFORE UPDATE ON nest_empty
BEGIN SELECT RAISE(ABORT, 'padjig: nest_empty is append-only'); END;
-- = trigger nest_empty_no_delete
CREATE TRIGGER nest_empty_no_delete BEFORE DELETE ON nest_empty
BEGIN SELECT RAISE(ABORT, 'padjig: nest_empty is append-only'); END;
-- = trigger nest_empty_no_replace
CREATE TRIGGER nest_empty_no_replace BEFORE INSERT ON nest_empty
WHEN NEW.seq IS NOT (SELECT coalesce(max(seq), 0) + 1 FROM nest_empty)
BEGIN SELECT RAISE(ABORT, 'padjig: nest_empty is append-only'); END;
-- = index run_judged
CREATE INDEX run_judged ON run (revision, simulated, seq)
WHERE purpose = '' AND outcome IN ('pass', 'fail') AND actuation <> 'electrical';
-- = trigger line_split_no_update
CREATE TRIGGER line_split_no_update BEFORE UPDATE ON line_split
BEGIN SELECT RAISE(ABORT, 'padjig: line_split is append-only'); END;
-- = trigger line_split_no_delete
CREATE TRIGGER line_split_no_delete BEFORE DELETE ON line_split
BEGIN SELECT RAISE(ABORT, 'padjig: line_split is append-only'); END;
-- = trigger line_split_no_replace
CREATE TRIGGER line_split_no_replace BEFORE INSERT ON line_split
WHEN EXISTS (SELECT 1 FROM line_split WHERE line_split = NEW.line_split OR fed = NEW.fed AND grounded = NEW.grounded)
BEGIN SELECT RAISE(ABORT, 'padjig: line_split is append-only'); END;
-- = trigger run_insulation_no_update
CREATE TRIGGER run_insulation_no_update BEFORE UPDATE ON run_insulation
BEGIN SELECT RAISE(ABORT, 'padjig: run_insulation is append-only'); END;
-- = trigger run_insulation_no_delete
CREATE TRIGGER run_insulation_no_delete BEFORE DELETE ON run_insulation
BEGIN SELECT RAISE(ABORT, 'padjig: run_insulation is append-only'); END;
-- = trigger run_insulation_no_replace
CREATE TRIGGER run_insulation_no_replace BEFORE INSERT ON run_insulation
WHEN EXISTS (SELECT 1 FROM run WHERE seq = NEW.run)
BEGIN SELECT RAISE(ABORT, 'padjig: run_insulation is append-only'); END;
-- = trigger run_insulation_complete
CREATE TRIGGER run_insulation_complete BEFORE INSERT ON run
WHEN NEW.insulation <> (SELECT count(*) FROM run_insulation WHERE run = NEW.seq)
BEGIN SELECT RAISE(ABORT, 'padjig: a part of the run is missing'); END;
-- = trigger run_proved
CREATE TRIGGER run_proved BEFORE INSERT ON run
WHEN NEW.outcome = 'pass' AND json_array_length(NEW.proofs, '$.missing') > 0
BEGIN SELECT RAISE(ABORT, 'padjig: the run lacks what a pass has to prove'); END;
-- = view proofs
CREATE VIEW proofs AS
SELECT run.seq, run.serial, run.verdict AS outcome, run.simulated,
       CASE one.type WHEN 'object' THEN one.value ->> '$.proof' ELSE one.value END AS proof,
       CASE part.key WHEN 'not_required' THEN 'not required' ELSE part.key END AS state,
       CASE one.type WHEN 'object' THEN one.value -> '$.of' END AS of
FROM run, json_each(run.proofs) AS part, json_each(part.value) AS one;
-- = view insulation
CREATE VIEW insulation AS
SELECT run.seq, run.serial, run.simulated, jig.serial AS jig,
       strftime('%Y-%m-%dT%H:%M:%S', run.started_us / 1000000, 'unixepoch') ||
       printf('.%06dZ', run.started_us % 1000000) AS started,
       run_insulation.place + 1 AS place, step.name AS step, fed, grounded,
       mohm / 1e3 AS ohm, u_mohm / 1e3 AS u_ohm, at_least
FROM run_insulation JOIN run ON run.seq = run_insulation.run JOIN jig USING (jig)
     JOIN step USING (step) JOIN line_split USING (line_split);
-- = index release_proposal_code
CREATE INDEX release_proposal_code ON release_proposal (code, seq);
-- = trigger release_proposal_no_update
CREATE TRIGGER release_proposal_no_update BEFORE UPDATE ON release_proposal
BEGIN SELECT RAISE(ABORT, 'padjig: release_proposal is append-only'); END;
-- = trigger release_proposal_no_delete
CREATE TRIGGER release_proposal_no_delete BEFORE DELETE ON release_proposal
BEGIN SELECT RAISE(ABORT, 'padjig: release_proposal is append-only'); END;
-- = trigger release_proposal_no_replace
CREATE TRIGGER release_proposal_no_replace BEFORE INSERT ON release_proposal
WHEN NEW.seq IS NOT (SELECT coalesce(max(seq), 0) + 1 FROM release_proposal)
BEGIN SELECT RAISE(ABORT, 'padjig: release_proposal is append-only'); END;
-- = trigger release_approval_no_update
CREATE TRIGGER release_approval_no_update BEFORE UPDATE ON release_approval
BEGIN SELECT RAISE(ABORT, 'padjig: release_approval is append-only'); END;
-- = trigger release_approval_no_delete
CREATE TRIGGER release_approval_no_delete BEFORE DELETE ON release_approval
BEGIN SELECT RAISE(ABORT, 'padjig: release_approval is append-only'); END;
-- = trigger release_approval_no_replace
CREATE TRIGGER release_approval_no_replace BEFORE INSERT ON release_approval
WHEN NEW.seq IS NOT (SELECT coalesce(max(seq), 0) + 1 FROM release_approval)
  OR EXISTS (SELECT 1 FROM release_approval WHERE proposal = NEW.proposal)
BEGIN SELECT RAISE(ABORT, 'padjig: release_approval is append-only'); END;
-- = trigger release_proposal_base
CREATE TRIGGER release_proposal_base BEFORE INSERT ON release_proposal
WHEN NEW.seq = (SELECT coalesce(max(seq), 0) + 1 FROM release_proposal) AND (NEW.base IS NOT (SELECT coalesce(max(seq), 0) FROM release WHERE code = NEW.code)
  OR NEW.against IS NOT coalesce(
       (SELECT hash FROM release WHERE code = NEW.code ORDER BY seq DESC LIMIT 1),
       (SELECT revision.hash FROM cell JOIN revision USING (revision)
        WHERE code = NEW.code AND purpose = '' AND runs > 0 ORDER BY simulated, last_run DESC LIMIT 1), ''))
BEGIN SELECT RAISE(ABORT, 'padjig: the proposal is compared with what is not in force'); END;
-- = trigger release_approval_in_time
CREATE TRIGGER release_approval_in_time BEFORE INSERT ON release_approval
WHEN NEW.seq = (SELECT coalesce(max(seq), 0) + 1 FROM release_approval) AND EXISTS (SELECT 1 FROM release_proposal AS asked WHERE asked.seq = NEW.proposal
  AND (asked.base IS NOT (SELECT coalesce(max(seq), 0) FROM release WHERE code = asked.code)
    OR EXISTS (SELECT 1 FROM release_proposal AS later WHERE later.code = asked.code AND later.seq > asked.seq)))
BEGIN SELECT RAISE(ABORT, 'padjig: something else was proposed or released since'); END;
-- = trigger run_engineering
CREATE TRIGGER run_engineering BEFORE INSERT ON run
WHEN (NEW.purpose = 'engineering') AND NEW.outcome = 'pass' OR NEW.outcome = 'nothing found' AND (
     NEW.purpose <> 'engineering'
  OR NEW.findings > 0)
BEGIN SELECT RAISE(ABORT, 'padjig: an engineering run is no pass'); END;
-- = trigger reference_check_engineering
CREATE TRIGGER reference_check_engineering BEFORE INSERT ON reference_check
WHEN EXISTS (SELECT 1 FROM run WHERE seq = NEW.run AND purpose = 'engineering')
BEGIN SELECT RAISE(ABORT, 'padjig: an engineering run is no check of a reference unit'); END;
-- = trigger wear_event_no_update
CREATE TRIGGER wear_event_no_update BEFORE UPDATE ON wear_event
BEGIN SELECT RAISE(ABORT, 'padjig: wear_event is append-only'); END;
-- = trigger wear_event_no_delete
CREATE TRIGGER wear_event_no_delete BEFORE DELETE ON wear_event
BEGIN SELECT RAISE(ABORT, 'padjig: wear_event is append-only'); END;
-- = trigger wear_event_no_replace
CREATE TRIGGER wear_event_no_replace BEFORE INSERT ON wear_event
WHEN NEW.seq IS NOT (SELECT coalesce(max(seq), 0) + 1 FROM wear_event)
BEGIN SELECT RAISE(ABORT, 'padjig: wear_event is append-only'); END;
-- = view wear_events
CREATE VIEW wear_events AS
SELECT seq, jig, part, kind, after_run, warn, block, by, note,
       strftime('%Y-%m-%dT%H:%M:%S', at_us / 1000000, 'unixepoch') ||
       printf('.%06dZ', at_us % 1000000) AS at,
       simulated, name, lot, tip, serves
FROM wear_event;
-- = index shipment_serial
CREATE INDEX shipment_serial ON shipment (serial);
-- = trigger shipment_no_update
CREATE TRIGGER shipment_no_update BEFORE UPDATE ON shipment
BEGIN SELECT RAISE(ABORT, 'padjig: shipment is append-only'); END;
-- = trigger shipment_no_delete
CREATE TRIGGER shipment_no_delete BEFORE DELETE ON shipment
BEGIN SELECT RAISE(ABORT, 'padjig: shipment is append-only'); END;
-- = trigger shipment_no_replace
CREATE TRIGGER shipment_no_replace BEFORE INSERT ON shipment
WHEN NEW.seq IS NOT (SELECT coalesce(max(seq), 0) + 1 FROM shipment)
BEGIN SELECT RAISE(ABORT, 'padjig: shipment is append-only'); END;
-- = view shipments
CREATE VIEW shipments AS
SELECT seq, serial, kind, consignee, although, simulated, after_run, by, note,
       strftime('%Y-%m-%dT%H:%M:%S', at_us / 1000000, 'unixepoch') ||
       printf('.%06dZ', at_us % 1000000) AS at
FROM shipment;
-- = index return_no_photo_case
CREATE INDEX return_no_photo_case ON return_no_photo (return_case);
-- = index return_unlock_case
CREATE INDEX return_unlock_case ON return_unlock (return_case);
-- = trigger return_no_photo_no_update
CREATE TRIGGER return_no_photo_no_update BEFORE UPDATE ON return_no_photo
BEGIN SELECT RAISE(ABORT, 'padjig: return_no_photo is append-only'); END;
-- = trigger return_no_photo_no_delete
CREATE TRIGGER return_no_photo_no_delete BEFORE DELETE ON return_no_photo
BEGIN SELECT RAISE(ABORT, 'padjig: return_no_photo is append-only'); END;
-- = trigger return_no_photo_no_replace
CREATE TRIGGER return_no_photo_no_replace BEFORE INSERT ON return_no_photo
WHEN NEW.seq IS NOT (SELECT coalesce(max(seq), 0) + 1 FROM return_no_photo)
BEGIN SELECT RAISE(ABORT, 'padjig: return_no_photo is append-only'); END;
-- = trigger return_unlock_no_update
CREATE TRIGGER return_unlock_no_update BEFORE UPDATE ON return_unlock
BEGIN SELECT RAISE(ABORT, 'padjig: return_unlock is append-only'); END;
-- = trigger return_unlock_no_delete
CREATE TRIGGER return_unlock_no_delete BEFORE DELETE ON return_unlock
BEGIN SELECT RAISE(ABORT, 'padjig: return_unlock is append-only'); END;
-- = trigger return_unlock_no_replace
CREATE TRIGGER return_unlock_no_replace BEFORE INSERT ON return_unlock
WHEN NEW.seq IS NOT (SELECT coalesce(max(seq), 0) + 1 FROM return_unlock)
  OR EXISTS (SELECT 1 FROM return_unlock WHERE override = NEW.override)
BEGIN SELECT RAISE(ABORT, 'padjig: return_unlock is append-only'); END;
-- = trigger return_disposal_no_update
CREATE TRIGGER return_disposal_no_update BEFORE UPDATE ON return_disposal
BEGIN SELECT RAISE(ABORT, 'padjig: return_disposal is append-only'); END;
-- = trigger return_disposal_no_delete
CREATE TRIGGER return_disposal_no_delete BEFORE DELETE ON return_disposal
BEGIN SELECT RAISE(ABORT, 'padjig: return_disposal is append-only'); END;
-- = trigger return_disposal_no_replace
CREATE TRIGGER return_disposal_no_replace BEFORE INSERT ON return_disposal
WHEN NEW.seq IS NOT (SELECT coalesce(max(seq), 0) + 1 FROM return_disposal)
  OR NEW.disposition <= (SELECT coalesce(max(seq), 0) FROM return_disposition)
BEGIN SELECT RAISE(ABORT, 'padjig: return_disposal is append-only'); END;
-- = trigger rework_deed_no_update
CREATE TRIGGER rework_deed_no_update BEFORE UPDATE ON rework_deed
BEGIN SELECT RAISE(ABORT, 'padjig: rework_deed is append-only'); END;
-- = trigger rework_deed_no_delete
CREATE TRIGGER rework_deed_no_delete BEFORE DELETE ON rework_deed
BEGIN SELECT RAISE(ABORT, 'padjig: rework_deed is append-only'); END;
-- = trigger rework_deed_no_replace
CREATE TRIGGER rework_deed_no_replace BEFORE INSERT ON rework_deed
WHEN NEW.seq IS NOT (SELECT coalesce(max(seq), 0) + 1 FROM rework_deed)
  OR NEW.rework <= (SELECT coalesce(max(seq), 0) FROM rework)
BEGIN SELECT RAISE(ABORT, 'padjig: rework_deed is append-only'); END;
-- = trigger return_intake_seen
CREATE TRIGGER return_intake_seen BEFORE INSERT ON return_intake
WHEN json_array_length(NEW.conditions) = 0
BEGIN SELECT RAISE(ABORT, 'padjig: the intake does not say what can be seen'); END;
-- = trigger return_intake_damage
CREATE TRIGGER return_intake_damage BEFORE INSERT ON return_intake
WHEN NEW.ends_testing <> EXISTS
  (SELECT 1 FROM json_each(NEW.conditions) WHERE value IN ('wet', 'burnt', 'tail torn', 'crushed'))
BEGIN SELECT RAISE(ABORT, 'padjig: damage ends electrical testing, and nothing else does'); END;
-- = view return_locked
CREATE VIEW return_locked AS
SELECT return_case FROM return_intake AS damaged
WHERE seq = (SELECT max(seq) FROM return_intake AS seen
             WHERE seen.return_case = damaged.return_case AND (seen.ends_testing = 1 OR EXISTS
               (SELECT 1 FROM json_each(seen.conditions) WHERE value IN ('wet', 'burnt', 'tail torn', 'crushed'))))
  AND ends_testing = 1
  AND NOT EXISTS (SELECT 1 FROM return_unlock WHERE return_unlock.return_case = damaged.return_case
                    AND return_unlock.intake >= damaged.seq);
-- = view return_seen
CREATE VIEW return_seen AS
SELECT seq AS return_case FROM return_case
WHERE (EXISTS (SELECT 1 FROM return_photo WHERE return_photo.return_case = return_case.seq)
    OR EXISTS (SELECT 1 FROM return_no_photo WHERE return_no_photo.return_case = return_case.seq))
  AND 0 < (SELECT json_array_length(conditions) FROM return_intake
           WHERE return_intake.return_case = return_case.seq ORDER BY seq DESC LIMIT 1);
-- = trigger run_start_case_seen
CREATE TRIGGER run_start_case_seen BEFORE INSERT ON run_start
WHEN NEW.return_case IS NOT NULL AND NOT EXISTS (SELECT 1 FROM return_seen WHERE return_case = NEW.return_case)
BEGIN SELECT RAISE(ABORT, 'padjig: the returns case has no photo, or does not say what can be seen'); END;
-- = trigger run_start_case_damaged
CREATE TRIGGER run_start_case_damaged BEFORE INSERT ON run_start
WHEN EXISTS (SELECT 1 FROM return_locked WHERE return_case = NEW.return_case)
BEGIN SELECT RAISE(ABORT, 'padjig: visible damage ended electrical testing'); END;
-- = trigger run_case_seen
CREATE TRIGGER run_case_seen BEFORE INSERT ON run
WHEN NEW.return_case IS NOT NULL AND NEW.start IS NULL
  AND NOT EXISTS (SELECT 1 FROM return_seen WHERE return_case = NEW.return_case)
BEGIN SELECT RAISE(ABORT, 'padjig: the returns case has no photo, or does not say what can be seen'); END;
-- = trigger run_case_damaged
CREATE TRIGGER run_case_damaged BEFORE INSERT ON run
WHEN NEW.return_case IS NOT NULL AND NEW.start IS NULL
  AND EXISTS (SELECT 1 FROM return_locked WHERE return_case = NEW.return_case)
BEGIN SELECT RAISE(ABORT, 'padjig: visible damage ended electrical testing'); END;
-- = trigger return_disposition_disposal
CREATE TRIGGER return_disposition_disposal BEFORE INSERT ON return_disposition
WHEN (NEW.disposition <> 'reopened') <> EXISTS (SELECT 1 FROM return_disposal WHERE disposition = NEW.seq)
BEGIN SELECT RAISE(ABORT, 'padjig: a closed case says what became of the unit'); END;
-- = trigger rework_coded
CREATE TRIGGER rework_coded BEFORE INSERT ON rework
WHEN NOT EXISTS (SELECT 1 FROM rework_deed WHERE rework = NEW.seq)
BEGIN SELECT RAISE(ABORT, 'padjig: rework is recorded in codes'); END;
-- = view return_disposals
CREATE VIEW return_disposals AS
SELECT return_disposal.seq, return_case AS number, disposition.disposition, disposal, reason, by, after_run, contradictions,
       strftime('%Y-%m-%dT%H:%M:%S', at_us / 1000000, 'unixepoch') ||
       printf('.%06dZ', at_us % 1000000) AS at
FROM return_disposal JOIN return_disposition AS disposition ON disposition.seq = return_disposal.disposition;
-- = view return_without_photo
CREATE VIEW return_without_photo AS
SELECT seq, return_case AS number, reason, by, strftime('%Y-%m-%dT%H:%M:%S', at_us / 1000000, 'unixepoch') ||
       printf('.%06dZ', at_us % 1000000) AS at
FROM return_no_photo;
-- = view return_unlocks
CREATE VIEW return_unlocks AS
SELECT return_unlock.seq, return_case AS number, serial, reason, by,
       strftime('%Y-%m-%dT%H:%M:%S', at_us / 1000000, 'unixepoch') ||
       printf('.%06dZ', at_us % 1000000) AS at
FROM return_unlock JOIN override ON override.seq = return_unlock.override;
-- = view reworks
CREATE VIEW reworks AS
SELECT rework.seq, serial, return_case AS number, after_run, what, rework.place, note, by,
       strftime('%Y-%m-%dT%H:%M:%S', done_us / 1000000, 'unixepoch') ||
       printf('.%06dZ', done_us % 1000000) AS done,
       strftime('%Y-%m-%dT%H:%M:%S', at_us / 1000000, 'unixepoch') ||
       printf('.%06dZ', at_us % 1000000) AS at,
       coalesce(deed, '') AS deed, coalesce(kind, '') AS place_kind, coalesce(rework_deed.place, '') AS place_name,
       coalesce(part, '') AS part, coalesce(lot, '') AS lot
FROM rework LEFT JOIN rework_deed ON rework_deed.rework = rework.seq;
-- = index stop_line
CREATE INDEX stop_line ON stop (jig, product);
-- = index run_line
CREATE INDEX run_line ON run (jig, revision) WHERE start IS NOT NULL AND purpose = '';
-- = trigger stop_no_update
CREATE TRIGGER stop_no_update BEFORE UPDATE ON stop
BEGIN SELECT RAISE(ABORT, 'padjig: stop is append-only'); END;
-- = trigger stop_no_delete
CREATE TRIGGER stop_no_delete BEFORE DELETE ON stop
BEGIN SELECT RAISE(ABORT, 'padjig: stop is append-only'); END;
-- = trigger stop_no_replace
CREATE TRIGGER stop_no_replace BEFORE INSERT ON stop
WHEN NEW.seq IS NOT (SELECT coalesce(max(seq), 0) + 1 FROM stop)
BEGIN SELECT RAISE(ABORT, 'padjig: stop is append-only'); END;
-- = trigger stop_lifting_no_update
CREATE TRIGGER stop_lifting_no_update BEFORE UPDATE ON stop_lifting
BEGIN SELECT RAISE(ABORT, 'padjig: stop_lifting is append-only'); END;
-- = trigger stop_lifting_no_delete
CREATE TRIGGER stop_lifting_no_delete BEFORE DELETE ON stop_lifting
BEGIN SELECT RAISE(ABORT, 'padjig: stop_lifting is append-only'); END;
-- = trigger stop_lifting_no_replace
CREATE TRIGGER stop_lifting_no_replace BEFORE INSERT ON stop_lifting
WHEN NEW.seq IS NOT (SELECT coalesce(max(seq), 0) + 1 FROM stop_lifting)
  OR EXISTS (SELECT 1 FROM stop_lifting WHERE stop = NEW.stop)
BEGIN SELECT RAISE(ABORT, 'padjig: stop_lifting is append-only'); END;
-- = trigger stop_beginning_no_update
CREATE TRIGGER stop_beginning_no_update BEFORE UPDATE ON stop_beginning
BEGIN SELECT RAISE(ABORT, 'padjig: stop_beginning is append-only'); END;
-- = trigger stop_beginning_no_delete
CREATE TRIGGER stop_beginning_no_delete BEFORE DELETE ON stop_beginning
BEGIN SELECT RAISE(ABORT, 'padjig: stop_beginning is append-only'); END;
-- = trigger stop_beginning_no_replace
CREATE TRIGGER stop_beginning_no_replace BEFORE INSERT ON stop_beginning
BEGIN SELECT RAISE(ABORT, 'padjig: stop_beginning is append-only'); END;
-- = view stops
CREATE VIEW stops AS
SELECT stop.seq AS number, stop.jig, stop.product, stop.simulated, stop.rule, stop.unit, stop.finding, stop.key,
       stop.lines, stop.pins, stop.units, stop.of, stop.run AS run_seq,
       strftime('%Y-%m-%dT%H:%M:%S', stop.at_us / 1000000, 'unixepoch') || printf('.%06dZ', stop.at_us % 1000000) AS at,
       stop_lifting.reason, stop_lifting.note, stop_lifting.by AS lifted_by, took_us / 1e6 AS stopped_s,
       strftime('%Y-%m-%dT%H:%M:%S', stop_lifting.at_us / 1000000, 'unixepoch') ||
       printf('.%06dZ', stop_lifting.at_us % 1000000) AS lifted
FROM stop LEFT JOIN stop_lifting ON stop_lifting.stop = stop.seq;
-- = index run_owing
CREATE INDEX run_owing ON run (jig, seq)
  WHERE purpose = '' AND (outcome = 'fail' OR outcome = 'aborted' AND findings > 0);
-- = trigger fail_place_no_update
CREATE TRIGGER fail_place_no_update BEFORE UPDATE ON fail_place
BEGIN SELECT RAISE(ABORT, 'padjig: fail_place is append-only'); END;
-- = trigger fail_place_no_delete
CREATE TRIGGER fail_place_no_delete BEFORE DELETE ON fail_place
BEGIN SELECT RAISE(ABORT, 'padjig: fail_place is append-only'); END;
-- = trigger fail_place_no_replace
CREATE TRIGGER fail_place_no_replace BEFORE INSERT ON fail_place
WHEN NEW.seq IS NOT (SELECT coalesce(max(seq), 0) + 1 FROM fail_place)
  OR EXISTS (SELECT 1 FROM fail_place WHERE name = NEW.name)
BEGIN SELECT RAISE(ABORT, 'padjig: fail_place is append-only'); END;
-- = trigger placement_no_update
CREATE TRIGGER placement_no_update BEFORE UPDATE ON placement
BEGIN SELECT RAISE(ABORT, 'padjig: placement is append-only'); END;
-- = trigger placement_no_delete
CREATE TRIGGER placement_no_delete BEFORE DELETE ON placement
BEGIN SELECT RAISE(ABORT, 'padjig: placement is append-only'); END;
-- = trigger placement_no_replace
CREATE TRIGGER placement_no_replace BEFORE INSERT ON placement
WHEN NEW.seq IS NOT (SELECT coalesce(max(seq), 0) + 1 FROM placement)
  OR EXISTS (SELECT 1 FROM placement WHERE run = NEW.run)
BEGIN SELECT RAISE(ABORT, 'padjig: placement is append-only'); END;
-- = trigger placement_of_fail
CREATE TRIGGER placement_of_fail BEFORE INSERT ON placement
WHEN NOT EXISTS (SELECT 1 FROM run WHERE seq = NEW.run AND purpose = ''
                   AND (outcome = 'fail' OR outcome = 'aborted' AND findings > 0))
BEGIN SELECT RAISE(ABORT, 'padjig: only a run that found something is placed'); END;
-- = trigger fails_owe_no_update
CREATE TRIGGER fails_owe_no_update BEFORE UPDATE ON fails_owe
BEGIN SELECT RAISE(ABORT, 'padjig: fails_owe is append-only'); END;
-- = trigger fails_owe_no_delete
CREATE TRIGGER fails_owe_no_delete BEFORE DELETE ON fails_owe
BEGIN SELECT RAISE(ABORT, 'padjig: fails_owe is append-only'); END;
-- = trigger fails_owe_no_replace
CREATE TRIGGER fails_owe_no_replace BEFORE INSERT ON fails_owe
WHEN EXISTS (SELECT 1 FROM fails_owe)
BEGIN SELECT RAISE(ABORT, 'padjig: fails_owe is append-only'); END;
-- = view placements
CREATE VIEW placements AS
SELECT placement.seq, run.seq AS run_seq, run.serial, revision.code AS product, jig.serial AS jig, run.simulated,
       placement.how, iif(placement.how = 'placed', coalesce(fail_place.name, 'fail place'), '') AS place,
       placement.by, placement.reason, placement.after_run,
       strftime('%Y-%m-%dT%H:%M:%S', placement.at_us / 1000000, 'unixepoch') ||
       printf('.%06dZ', placement.at_us % 1000000) AS at
FROM placement JOIN run ON run.seq = placement.run JOIN revision ON revision.revision = run.revision
JOIN jig ON jig.jig = run.jig LEFT JOIN fail_place ON fail_place.seq = placement.place;
-- = index product_change_jig
CREATE INDEX product_change_jig ON product_change (jig, simulated, seq);
-- = trigger product_change_no_update
CREATE TRIGGER product_change_no_update BEFORE UPDATE ON product_change
BEGIN SELECT RAISE(ABORT, 'padjig: product_change is append-only'); END;
-- = trigger product_change_no_delete
CREATE TRIGGER product_change_no_delete BEFORE DELETE ON product_change
BEGIN SELECT RAISE(ABORT, 'padjig: product_change is append-only'); END;
-- = trigger product_change_no_replace
CREATE TRIGGER product_change_no_replace BEFORE INSERT ON product_change
WHEN NEW.seq IS NOT (SELECT coalesce(max(seq), 0) + 1 FROM product_change)
BEGIN SELECT RAISE(ABORT, 'padjig: product_change is append-only'); END;
-- = view product_changes
CREATE VIEW product_changes AS
SELECT seq, jig, simulated, before, product, after_run, by,
       strftime('%Y-%m-%dT%H:%M:%S', at_us / 1000000, 'unixepoch') ||
       printf('.%06dZ', at_us % 1000000) AS at
FROM product_change;
-- = trigger account_lock_no_update
CREATE TRIGGER account_lock_no_update BEFORE UPDATE ON account_lock
BEGIN SELECT RAISE(ABORT, 'padjig: account_lock is append-only'); END;
-- = trigger account_lock_no_delete
CREATE TRIGGER account_lock_no_delete BEFORE DELETE ON account_lock
BEGIN SELECT RAISE(ABORT, 'padjig: account_lock is append-only'); END;
-- = trigger account_lock_no_replace
CREATE TRIGGER account_lock_no_replace BEFORE INSERT ON account_lock
WHEN NEW.seq IS NOT (SELECT coalesce(max(seq), 0) + 1 FROM account_lock)
BEGIN SELECT RAISE(ABORT, 'padjig: account_lock is append-only'); END;
-- = trigger release_approval_two
CREATE TRIGGER release_approval_two BEFORE INSERT ON release_approval
WHEN NEW.seq = (SELECT coalesce(max(seq), 0) + 1 FROM release_approval) AND (NOT EXISTS (
  SELECT 1 FROM release_proposal AS asked
  WHERE asked.seq = NEW.proposal AND asked.revision = NEW.revision
    AND lower(replace(asked.by, ' ', '')) <> lower(replace(NEW.by, ' ', ''))
    AND (SELECT role FROM account_event WHERE name = NEW.by AND kind IN ('role', 'closed')
         ORDER BY seq DESC LIMIT 1) IN ('quality', 'engineer')
    AND (SELECT kind FROM account_lock WHERE name = NEW.by ORDER BY seq DESC LIMIT 1) IS NOT 'locked'
    AND NOT EXISTS (
      SELECT 1 FROM account_event AS made
      WHERE made.seq > (SELECT coalesce(max(seq), 0) FROM account_event WHERE name = made.name AND kind = 'closed')
        AND (made.name = NEW.by AND lower(replace(made.by, ' ', '')) = lower(replace(asked.by, ' ', ''))
          OR made.name = asked.by AND lower(replace(made.by, ' ', '')) = lower(replace(NEW.by, ' ', ''))))))
BEGIN SELECT RAISE(ABORT, 'padjig: a second person of quality or engineer has to approve the proposal'); END;
-- = trigger plant_zone_no_update
CREATE TRIGGER plant_zone_no_update BEFORE UPDATE ON plant_zone
BEGIN SELECT RAISE(ABORT, 'padjig: plant_zone is append-only'); END;
-- = trigger plant_zone_no_delete
CREATE TRIGGER plant_zone_no_delete BEFORE DELETE ON plant_zone
BEGIN SELECT RAISE(ABORT, 'padjig: plant_zone is append-only'); END;
-- = trigger plant_zone_no_replace
CREATE TRIGGER plant_zone_no_replace BEFORE INSERT ON plant_zone
WHEN NEW.seq IS NOT (SELECT coalesce(max(seq), 0) + 1 FROM plant_zone)
BEGIN SELECT RAISE(ABORT, 'padjig: plant_zone is append-only'); END;
-- = trigger release_withdrawal_no_update
CREATE TRIGGER release_withdrawal_no_update BEFORE UPDATE ON release_withdrawal
BEGIN SELECT RAISE(ABORT, 'padjig: release_withdrawal is append-only'); END;
-- = trigger release_withdrawal_no_delete
CREATE TRIGGER release_withdrawal_no_delete BEFORE DELETE ON release_withdrawal
BEGIN SELECT RAISE(ABORT, 'padjig: release_withdrawal is append-only'); END;
-- = trigger release_withdrawal_no_replace
CREATE TRIGGER release_withdrawal_no_replace BEFORE INSERT ON release_withdrawal
WHEN NEW.seq IS NOT (SELECT coalesce(max(seq), 0) + 1 FROM release_withdrawal)
  OR EXISTS (SELECT 1 FROM release_withdrawal WHERE proposal = NEW.proposal)
BEGIN SELECT RAISE(ABORT, 'padjig: release_withdrawal is append-only'); END;
-- = trigger release_withdrawal_engineer
CREATE TRIGGER release_withdrawal_engineer BEFORE INSERT ON release_withdrawal
WHEN NEW.seq = (SELECT coalesce(max(seq), 0) + 1 FROM release_withdrawal) AND
     ((SELECT role FROM account_event WHERE name = NEW.by AND kind IN ('role', 'closed') ORDER BY seq DESC LIMIT 1) IS NOT 'engineer'
   OR (SELECT kind FROM account_lock WHERE name = NEW.by ORDER BY seq DESC LIMIT 1) IS 'locked')
BEGIN SELECT RAISE(ABORT, 'padjig: an engineer withdraws a proposal'); END;
-- = trigger release_withdrawal_in_time
CREATE TRIGGER release_withdrawal_in_time BEFORE INSERT ON release_withdrawal
WHEN NEW.seq = (SELECT coalesce(max(seq), 0) + 1 FROM release_withdrawal) AND
     (EXISTS (SELECT 1 FROM release_approval WHERE proposal = NEW.proposal)
   OR EXISTS (SELECT 1 FROM release WHERE proposal = NEW.proposal)
   OR NOT EXISTS (SELECT 1 FROM release_proposal WHERE seq = NEW.proposal AND loosens = 1))
BEGIN SELECT RAISE(ABORT, 'padjig: the proposal does not wait for approval'); END;
-- = trigger release_approval_withdrawn
CREATE TRIGGER release_approval_withdrawn BEFORE INSERT ON release_approval
WHEN NEW.seq = (SELECT coalesce(max(seq), 0) + 1 FROM release_approval)
 AND EXISTS (SELECT 1 FROM release_withdrawal WHERE proposal = NEW.proposal)
BEGIN SELECT RAISE(ABORT, 'padjig: the proposal was withdrawn'); END;
-- = view two_currents
CREATE VIEW two_currents AS
SELECT run.seq, run.serial, run.simulated, jig.serial AS jig,
       strftime('%Y-%m-%dT%H:%M:%S', run.started_us / 1000000, 'unixepoch') ||
       printf('.%06dZ', run.started_us % 1000000) AS started,
       run_key.place + 1 AS place, key.label AS key, two_currents ->> '$.conduction' AS conduction,
       (two_currents ->> '$.small.pa') / 1e12 AS small_ampere,
       (two_currents ->> '$.small.mohm') / 1e3 AS small_ohm, (two_currents ->> '$.small.u_mohm') / 1e3 AS small_u_ohm,
       (two_currents ->> '$.large.pa') / 1e12 AS large_ampere,
       (two_currents ->> '$.large.mohm') / 1e3 AS large_ohm, (two_currents ->> '$.large.u_mohm') / 1e3 AS large_u_ohm
FROM run_key JOIN run ON run.seq = run_key.run JOIN jig USING (jig) JOIN key USING (key)
WHERE two_currents IS NOT NULL;
-- = index commissioning_jig
CREATE INDEX commissioning_jig ON commissioning (jig, simulated);
-- = index commissioning_step_of
CREATE INDEX commissioning_step_of ON commissioning_step (commissioning);
-- = trigger commissioning_no_update
CREATE TRIGGER commissioning_no_update BEFORE UPDATE ON commissioning
BEGIN SELECT RAISE(ABORT, 'padjig: commissioning is append-only'); END;
-- = trigger commissioning_no_delete
CREATE TRIGGER commissioning_no_delete BEFORE DELETE ON commissioning
BEGIN SELECT RAISE(ABORT, 'padjig: commissioning is append-only'); END;
-- = trigger commissioning_no_replace
CREATE TRIGGER commissioning_no_replace BEFORE INSERT ON commissioning
WHEN NEW.seq IS NOT (SELECT coalesce(max(seq), 0) + 1 FROM commissioning)
  OR EXISTS (SELECT 1 FROM commissioning WHERE id = NEW.id)
BEGIN SELECT RAISE(ABORT, 'padjig: commissioning is append-only'); END;
-- = trigger commissioning_step_no_update
CREATE TRIGGER commissioning_step_no_update BEFORE UPDATE ON commissioning_step
BEGIN SELECT RAISE(ABORT, 'padjig: commissioning_step is append-only'); END;
-- = trigger commissioning_step_no_delete
CREATE TRIGGER commissioning_step_no_delete BEFORE DELETE ON commissioning_step
BEGIN SELECT RAISE(ABORT, 'padjig: commissioning_step is append-only'); END;
-- = trigger commissioning_step_no_replace
CREATE TRIGGER commissioning_step_no_replace BEFORE INSERT ON commissioning_step
WHEN NEW.seq IS NOT (SELECT coalesce(max(seq), 0) + 1 FROM commissioning_step)
BEGIN SELECT RAISE(ABORT, 'padjig: commissioning_step is append-only'); END;
-- = trigger commissioning_step_good
CREATE TRIGGER commissioning_step_good BEFORE INSERT ON commissioning_step
WHEN NEW.outcome = 'pass'
 AND EXISTS (SELECT 1 FROM json_each(NEW.figures) WHERE coalesce(value ->> '$.good', 0) <> 1)
BEGIN SELECT RAISE(ABORT, 'padjig: the figures do not support a pass'); END;
-- = trigger commissioning_step_newest
CREATE TRIGGER commissioning_step_newest BEFORE INSERT ON commissioning_step
WHEN EXISTS (SELECT 1 FROM commissioning AS own JOIN commissioning AS later USING (jig, simulated)
             WHERE own.seq = NEW.commissioning AND later.seq > own.seq)
BEGIN SELECT RAISE(ABORT, 'padjig: a newer commissioning of this jig was begun'); END;
-- = view commissionings
CREATE VIEW commissionings AS
SELECT commissioning.seq, commissioning.jig, model, firmware, simulated, commissioning.by,
       strftime('%Y-%m-%dT%H:%M:%S', commissioning.at_us / 1000000, 'unixepoch') || printf('.%06dZ', commissioning.at_us % 1000000) AS at,
       step, outcome, why, figures, commissioning_step.by AS step_by,
       strftime('%Y-%m-%dT%H:%M:%S', commissioning_step.at_us / 1000000, 'unixepoch') ||
       printf('.%06dZ', commissioning_step.at_us % 1000000) AS step_at
FROM commissioning LEFT JOIN commissioning_step ON commissioning_step.commissioning = commissioning.seq;
-- = trigger program_no_update
CREATE TRIGGER program_no_update BEFORE UPDATE ON program
BEGIN SELECT RAISE(ABORT, 'padjig: program is append-only'); END;
-- = trigger program_no_delete
CREATE TRIGGER program_no_delete BEFORE DELETE ON program
BEGIN SELECT RAISE(ABORT, 'padjig: program is append-only'); END;
-- = trigger program_no_replace
CREATE TRIGGER program_no_replace BEFORE INSERT ON program
WHEN NEW.seq IS NOT (SELECT coalesce(max(seq), 0) + 1 FROM program)
BEGIN SELECT RAISE(ABORT, 'padjig: program is append-only'); END;
-- = view programs
CREATE VIEW programs AS
SELECT seq, version, commit_hash, modified, go, platform, sqlite, host, after_run,
       strftime('%Y-%m-%dT%H:%M:%S', at_us / 1000000, 'unixepoch') || printf('.%06dZ', at_us % 1000000) AS at
FROM program;
-- = trigger backup_no_update
CREATE TRIGGER backup_no_update BEFORE UPDATE ON backup
BEGIN SELECT RAISE(ABORT, 'padjig: backup is append-only'); END;
-- = trigger backup_no_delete
CREATE TRIGGER backup_no_delete BEFORE DELETE ON backup
BEGIN SELECT RAISE(ABORT, 'padjig: backup is append-only'); END;
-- = trigger backup_no_replace
CREATE TRIGGER backup_no_replace BEFORE INSERT ON backup
WHEN NEW.seq IS NOT (SELECT coalesce(max(seq), 0) + 1 FROM backup)
BEGIN SELECT RAISE(ABORT, 'padjig: backup is append-only'); END;
-- = index hand_off_receiver
CREATE INDEX hand_off_receiver ON hand_off (receiver, what);
-- = trigger outbox_run
CREATE TRIGGER outbox_run AFTER INSERT ON run
BEGIN INSERT INTO outbox SELECT coalesce(max(seq), 0) + 1, randomblob(16), 'run', NEW.seq FROM outbox; END;
-- = trigger outbox_override
CREATE TRIGGER outbox_override AFTER INSERT ON override WHEN NEW.serial <> ''
BEGIN INSERT INTO outbox SELECT coalesce(max(seq), 0) + 1, randomblob(16), 'override', NEW.seq FROM outbox; END;
-- = trigger outbox_placement
CREATE TRIGGER outbox_placement AFTER INSERT ON placement
BEGIN INSERT INTO outbox SELECT coalesce(max(seq), 0) + 1, randomblob(16), 'placement', NEW.seq FROM outbox; END;
-- = trigger outbox_rework
CREATE TRIGGER outbox_rework AFTER INSERT ON rework
BEGIN INSERT INTO outbox SELECT coalesce(max(seq), 0) + 1, randomblob(16), 'rework', NEW.seq FROM outbox; END;
-- = trigger outbox_disposition
CREATE TRIGGER outbox_disposition AFTER INSERT ON return_disposition
BEGIN INSERT INTO outbox SELECT coalesce(max(seq), 0) + 1, randomblob(16), 'disposition', NEW.seq FROM outbox; END;
-- = trigger outbox_no_update
CREATE TRIGGER outbox_no_update BEFORE UPDATE ON outbox
BEGIN SELECT RAISE(ABORT, 'padjig: outbox is append-only'); END;
-- = trigger outbox_no_delete
CREATE TRIGGER outbox_no_delete BEFORE DELETE ON outbox
BEGIN SELECT RAISE(ABORT, 'padjig: outbox is append-only'); END;
-- = trigger outbox_no_replace
CREATE TRIGGER outbox_no_replace BEFORE INSERT ON outbox
WHEN NEW.seq IS NOT (SELECT coalesce(max(seq), 0) + 1 FROM outbox)
BEGIN SELECT RAISE(ABORT, 'padjig: outbox is append-only'); END;
-- = trigger hand_off_no_update
CREATE TRIGGER hand_off_no_update BEFORE UPDATE ON hand_off
BEGIN SELECT RAISE(ABORT, 'padjig: hand_off is append-only'); END;
-- = trigger hand_off_no_delete
CREATE TRIGGER hand_off_no_delete BEFORE DELETE ON hand_off
BEGIN SELECT RAISE(ABORT, 'padjig: hand_off is append-only'); END;
-- = trigger hand_off_no_replace
CREATE TRIGGER hand_off_no_replace BEFORE INSERT ON hand_off
WHEN NEW.seq IS NOT (SELECT coalesce(max(seq), 0) + 1 FROM hand_off)
BEGIN SELECT RAISE(ABORT, 'padjig: hand_off is append-only'); END;
-- = trigger hand_off_event
CREATE TRIGGER hand_off_event BEFORE INSERT ON hand_off
WHEN NEW.event > (SELECT coalesce(max(seq), 0) FROM outbox)
BEGIN SELECT RAISE(ABORT, 'padjig: there is no such event'); END;
-- = trigger token_no_update
CREATE TRIGGER token_no_update BEFORE UPDATE ON token
BEGIN SELECT RAISE(ABORT, 'padjig: token is append-only'); END;
-- = trigger token_no_delete
CREATE TRIGGER token_no_delete BEFORE DELETE ON token
BEGIN SELECT RAISE(ABORT, 'padjig: token is append-only'); END;
-- = trigger token_no_replace
CREATE TRIGGER token_no_replace BEFORE INSERT ON token
WHEN NEW.seq IS NOT (SELECT coalesce(max(seq), 0) + 1 FROM token)
  OR EXISTS (SELECT 1 FROM token WHERE secret = NEW.secret)
BEGIN SELECT RAISE(ABORT, 'padjig: token is append-only'); END;
-- = trigger token_end_no_update
CREATE TRIGGER token_end_no_update BEFORE UPDATE ON token_end
BEGIN SELECT RAISE(ABORT, 'padjig: token_end is append-only'); END;
-- = trigger token_end_no_delete
CREATE TRIGGER token_end_no_delete BEFORE DELETE ON token_end
BEGIN SELECT RAISE(ABORT, 'padjig: token_end is append-only'); END;
-- = trigger token_end_no_replace
CREATE TRIGGER token_end_no_replace BEFORE INSERT ON token_end
WHEN NEW.seq IS NOT (SELECT coalesce(max(seq), 0) + 1 FROM token_end)
  OR EXISTS (SELECT 1 FROM token_end WHERE token = NEW.token)
BEGIN SELECT RAISE(ABORT, 'padjig: token_end is append-only'); END;
-- = trigger token_use_no_update
CREATE TRIGGER token_use_no_update BEFORE UPDATE ON token_use
BEGIN SELECT RAISE(ABORT, 'padjig: token_use is append-only'); END;
-- = trigger token_use_no_delete
CREATE TRIGGER token_use_no_delete BEFORE DELETE ON token_use
BEGIN SELECT RAISE(ABORT, 'padjig: token_use is append-only'); END;
-- = trigger token_use_no_replace
CREATE TRIGGER token_use_no_replace BEFORE INSERT ON token_use
WHEN NEW.seq IS NOT (SELECT coalesce(max(seq), 0) + 1 FROM token_use)
  OR EXISTS (SELECT 1 FROM token_use WHERE token = NEW.token AND day = NEW.day)
BEGIN SELECT RAISE(ABORT, 'padjig: token_use is append-only'); END;
-- = index notice_subject
CREATE INDEX notice_subject ON notice (kind, subject);
-- = trigger notice_no_update
CREATE TRIGGER notice_no_update BEFORE UPDATE ON notice
BEGIN SELECT RAISE(ABORT, 'padjig: notice is append-only'); END;
-- = trigger notice_no_delete
CREATE TRIGGER notice_no_delete BEFORE DELETE ON notice
BEGIN SELECT RAISE(ABORT, 'padjig: notice is append-only'); END;
-- = trigger notice_no_replace
CREATE TRIGGER notice_no_replace BEFORE INSERT ON notice
WHEN NEW.seq IS NOT (SELECT coalesce(max(seq), 0) + 1 FROM notice)
BEGIN SELECT RAISE(ABORT, 'padjig: notice is append-only'); END;
-- = trigger notice_effect_no_update
CREATE TRIGGER notice_effect_no_update BEFORE UPDATE ON notice_effect
BEGIN SELECT RAISE(ABORT, 'padjig: notice_effect is append-only'); END;
-- = trigger notice_effect_no_delete
CREATE TRIGGER notice_effect_no_delete BEFORE DELETE ON notice_effect
BEGIN SELECT RAISE(ABORT, 'padjig: notice_effect is append-only'); END;
-- = trigger notice_effect_no_replace
CREATE TRIGGER notice_effect_no_replace BEFORE INSERT ON notice_effect
WHEN NEW.seq IS NOT (SELECT coalesce(max(seq), 0) + 1 FROM notice_effect)
  OR EXISTS (SELECT 1 FROM notice_effect WHERE notice = NEW.notice)
BEGIN SELECT RAISE(ABORT, 'padjig: notice_effect is append-only'); END;
-- = index release_notice
CREATE UNIQUE INDEX release_notice ON release (notice) WHERE notice IS NOT NULL;
-- = trigger release_of_proposal
CREATE TRIGGER release_of_proposal BEFORE INSERT ON release
WHEN NEW.seq = (SELECT coalesce(max(seq), 0) + 1 FROM release) AND NEW.notice IS NULL AND (NOT EXISTS (
  SELECT 1 FROM release_proposal AS asked
  WHERE asked.seq = NEW.proposal AND asked.code = NEW.code AND asked.label = NEW.label AND asked.revision = NEW.hash
    AND asked.kind = NEW.kind AND asked.source = NEW.source AND asked.by = NEW.by AND asked.reason = NEW.reason
    AND asked.base = (SELECT coalesce(max(seq), 0) FROM release WHERE code = NEW.code)
    AND (asked.loosens = 0 OR EXISTS (SELECT 1 FROM release_approval WHERE proposal = asked.seq)))
  OR NEW.from_serial <> '' OR NEW.approved <> '')
BEGIN SELECT RAISE(ABORT, 'padjig: the release was not proposed, or not approved by a second person'); END;
-- = trigger release_of_notice
CREATE TRIGGER release_of_notice BEFORE INSERT ON release
WHEN NEW.seq = (SELECT coalesce(max(seq), 0) + 1 FROM release) AND NEW.notice IS NOT NULL AND (NEW.proposal IS NOT NULL OR NOT EXISTS (
  SELECT 1 FROM notice AS said
  WHERE said.seq = NEW.notice AND said.seq > coalesce((SELECT max(notice) FROM release), 0)
    AND said.kind = CASE NEW.kind WHEN 'back' THEN 'return' ELSE 'release' END AND said.subject = NEW.code
    AND (said.body ->> '$.label', said.body ->> '$.hash', said.body ->> '$.source', said.body ->> '$.by', said.body ->> '$.reason',
         said.body ->> '$.from_serial', said.body ->> '$.approved')
        IS (NEW.label, NEW.hash, NEW.source, NEW.by, NEW.reason, NEW.from_serial, NEW.approved)))
BEGIN SELECT RAISE(ABORT, 'padjig: the release is not what the notice says'); END;
-- = trigger release_of_plant
CREATE TRIGGER release_of_plant BEFORE INSERT ON release
WHEN NEW.seq = (SELECT coalesce(max(seq), 0) + 1 FROM release) AND NEW.notice IS NULL
 AND EXISTS (SELECT 1 FROM release WHERE code = NEW.code AND notice IS NOT NULL)
BEGIN SELECT RAISE(ABORT, 'padjig: the plant releases this product'); END;
-- = trigger account_event_of_plant
CREATE TRIGGER account_event_of_plant BEFORE INSERT ON account_event
WHEN NEW.seq = (SELECT coalesce(max(seq), 0) + 1 FROM account_event) AND CASE WHEN NEW.notice IS NULL
  THEN EXISTS (SELECT 1 FROM account_event AS past WHERE past.name = NEW.name AND past.notice IS NOT NULL
               AND past.seq > (SELECT coalesce(max(seq), 0) FROM account_event WHERE name = NEW.name AND kind = 'closed'))
  ELSE NOT EXISTS (SELECT 1 FROM notice AS said WHERE said.seq = NEW.notice AND said.kind = 'account' AND said.subject = NEW.name) END
BEGIN SELECT RAISE(ABORT, 'padjig: the plant decides about this account'); END;
-- = trigger asked_no_update
CREATE TRIGGER asked_no_update BEFORE UPDATE ON asked
BEGIN SELECT RAISE(ABORT, 'padjig: asked is append-only'); END;
-- = trigger asked_no_delete
CREATE TRIGGER asked_no_delete BEFORE DELETE ON asked
BEGIN SELECT RAISE(ABORT, 'padjig: asked is append-only'); END;
-- = trigger asked_no_replace
CREATE TRIGGER asked_no_replace BEFORE INSERT ON asked
WHEN NEW.seq IS NOT (SELECT coalesce(max(seq), 0) + 1 FROM asked)
  OR EXISTS (SELECT 1 FROM asked WHERE start = NEW.start)
BEGIN SELECT RAISE(ABORT, 'padjig: asked is append-only'); END;
-- = index span_ends
CREATE INDEX span_ends ON span (ends, begins);
-- = trigger cell_in_span
CREATE TRIGGER cell_in_span AFTER UPDATE OF last_passed ON cell
WHEN OLD.last_passed <> NEW.last_passed AND EXISTS (SELECT 1 FROM span WHERE ends > NEW.hour AND begins <= NEW.hour)
BEGIN
  UPDATE span_cell SET last_passed = last_passed + NEW.last_passed - OLD.last_passed
  WHERE span IN (SELECT span FROM span WHERE ends > NEW.hour AND begins <= NEW.hour AND detail = 1)
    AND shift = NEW.shift AND revision = NEW.revision AND jig = NEW.jig AND lots = NEW.lots AND operator = NEW.operator
    AND actuation = NEW.actuation AND simulated = NEW.simulated AND purpose = NEW.purpose;
  UPDATE span_cell SET last_passed = last_passed + NEW.last_passed - OLD.last_passed
  WHERE span IN (SELECT span FROM span WHERE ends > NEW.hour AND begins <= NEW.hour AND detail = 0)
    AND shift = 0 AND revision = NEW.revision AND jig = NEW.jig AND lots = 0 AND operator = ''
    AND actuation = NEW.actuation AND simulated = NEW.simulated AND purpose = NEW.purpose;
END;
-- = trigger cell_out_of_span
CREATE TRIGGER cell_out_of_span AFTER UPDATE OF hour, shift, revision, jig, lots, operator, actuation, simulated, purpose,
  first_run, last_run, runs, reseat, incomplete, aborted, units, first_passed, retests, cures, relapses ON cell
WHEN EXISTS (SELECT 1 FROM span WHERE ends > min(OLD.hour, NEW.hour) AND begins <= max(OLD.hour, NEW.hour))
BEGIN DELETE FROM span WHERE ends > NEW.hour AND begins <= NEW.hour OR ends > OLD.hour AND begins <= OLD.hour; END;
-- = trigger cell_into_span
CREATE TRIGGER cell_into_span AFTER INSERT ON cell WHEN NEW.runs <> 0
BEGIN DELETE FROM span WHERE ends > NEW.hour AND begins <= NEW.hour; END;
-- = trigger cell_left_span
CREATE TRIGGER cell_left_span AFTER DELETE ON cell
BEGIN DELETE FROM span WHERE ends > OLD.hour AND begins <= OLD.hour; END;
