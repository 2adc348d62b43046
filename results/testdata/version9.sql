-- A store of version 9, written by the padjig of that time, which took an electrical press that found nothing for a pass.
PRAGMA application_id = 0x7061646A;
PRAGMA user_version = 9;
PRAGMA foreign_keys=OFF;
BEGIN TRANSACTION;
CREATE TABLE migration (
  version    INTEGER PRIMARY KEY,
  name       TEXT    NOT NULL,
  applied_us INTEGER NOT NULL,
  software   TEXT    NOT NULL,
  sqlite     TEXT    NOT NULL
) STRICT;
INSERT INTO migration VALUES(1,'0001_runs.sql',1795928194070874,'devel','3.54.1');
INSERT INTO migration VALUES(2,'0002_calibrations.sql',1795928194071443,'devel','3.54.1');
INSERT INTO migration VALUES(3,'0003_references_and_wear.sql',1795928194071824,'devel','3.54.1');
INSERT INTO migration VALUES(4,'0004_polarity_and_trend.sql',1795928194078905,'devel','3.54.1');
INSERT INTO migration VALUES(5,'0005_returns.sql',1795928194084125,'devel','3.54.1');
INSERT INTO migration VALUES(6,'0006_line.sql',1795928194091514,'devel','3.54.1');
INSERT INTO migration VALUES(7,'0007_accounts_and_releases.sql',1795928194092551,'devel','3.54.1');
INSERT INTO migration VALUES(8,'0008_gauge_studies.sql',1795928194167268,'devel','3.54.1');
INSERT INTO migration VALUES(9,'0009_handover.sql',1795928194167626,'devel','3.54.1');
CREATE TABLE revision (
  revision   INTEGER PRIMARY KEY,
  hash       TEXT NOT NULL,           -- SHA-256 of the product's meaning, hexadecimal
  code       TEXT NOT NULL,
  title      TEXT NOT NULL,
  label      TEXT NOT NULL,           -- the engineer's name of the revision
  definition TEXT NOT NULL CHECK (json_valid(definition)),
  UNIQUE (hash, code, title, label)
) STRICT;
INSERT INTO revision VALUES(1,'7c3f622e2fd137ccfcad972e5f9000cdf9925d8b7a2c0de91ce1b6fea8a7d6e0','GH-20','Greenhouse climate controller, 5x4','C','{"code":"GH-20","keys":20}');
CREATE TABLE key (
  key      INTEGER PRIMARY KEY,
  revision INTEGER NOT NULL REFERENCES revision,
  label    TEXT    NOT NULL,
  line_a   TEXT    NOT NULL,
  line_b   TEXT    NOT NULL,
  UNIQUE (revision, label, line_a, line_b)
) STRICT;
INSERT INTO "key" VALUES(1,1,'1','R1','C1');
INSERT INTO "key" VALUES(2,1,'2','R1','C2');
CREATE TABLE pin (
  pin      INTEGER PRIMARY KEY,
  revision INTEGER NOT NULL REFERENCES revision,
  number   INTEGER NOT NULL,          -- tail pin, from 1
  line     TEXT    NOT NULL,          -- empty for an unused pin
  UNIQUE (revision, number, line)
) STRICT;
INSERT INTO pin VALUES(1,1,1,'R1');
INSERT INTO pin VALUES(2,1,2,'');
CREATE TABLE step (
  step INTEGER PRIMARY KEY,
  name TEXT NOT NULL UNIQUE
) STRICT;
INSERT INTO step VALUES(1,'seating');
INSERT INTO step VALUES(2,'key 1');
CREATE TABLE jig (
  jig      INTEGER PRIMARY KEY,
  serial   TEXT NOT NULL,
  model    TEXT NOT NULL,
  firmware TEXT NOT NULL,
  adapter  TEXT NOT NULL,
  UNIQUE (serial, model, firmware, adapter)
) STRICT;
INSERT INTO jig VALUES(1,'J-0007','PJ-64','1.4.2','A-20');
CREATE TABLE station (
  station  INTEGER PRIMARY KEY,
  host     TEXT NOT NULL,
  software TEXT NOT NULL,             -- version of padjig
  boot_id  TEXT NOT NULL,             -- changes with each start of the computer; empty if unknown
  UNIQUE (host, software, boot_id)
) STRICT;
INSERT INTO station VALUES(1,'vm','devel','736883e4-f754-40f9-b86c-52085f08a3f0');
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
  outcome      TEXT    NOT NULL CHECK (outcome IN ('pass', 'fail', 'reseat', 'incomplete', 'aborted')),
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
  CHECK (purpose IN ('', 'first press', 'return test', 'exercise', 'gauge study')), return_case INTEGER REFERENCES return_case
  CHECK ((purpose IN ('', 'gauge study')) = (return_case IS NULL)), exercised INTEGER NOT NULL DEFAULT 0) STRICT;
INSERT INTO run VALUES(1,X'01a225a97c837722b8786de8bdb2e2de','24-000001',1,1,1,0,'electrical','Ines',1,1772435704123456,8421337,'pass','',1795928194179117,832002409511,0,2,2,2,0,0,X'127deab41cb3a5a98f45990303f27c296fd2d5b24528fa4e395a2bb3b37d84f1','',NULL,0);
INSERT INTO run VALUES(2,X'01a225a97c88759782e4f2825952d37b','24-000002',1,1,1,0,'electrical','Ines',1,1772435764123456,8421337,'pass','',1795928194184258,832007550224,0,2,2,2,0,0,X'60ff5e6d24c535dc8b91545595695b285b15d6dac20d4906c43f021f59d951e6','',NULL,0);
INSERT INTO run VALUES(3,X'01a225a97c8c7ea2ab78816edc59380c','24-000002',1,1,1,0,'mechanical','Ines',1,1772435824123456,8421337,'fail','',1795928194188837,832012129037,0,2,2,2,2,3,X'6419eae002163dab848adb750a612b8f8c7544b0b78adfc1a3322bc853cc921e','',NULL,0);
INSERT INTO run VALUES(4,X'01a225a97c8e7da8825b3f33fba15ba5','24-000003',1,1,1,0,'electrical','Ines',1,1772435884123456,8421337,'fail','',1795928194190536,832013828317,0,2,2,2,2,1,X'bbf300326fa1767bfbb273b8d6e6d7427853d01cce47b8fee2b6c4a58455dda3','',NULL,0);
INSERT INTO run VALUES(5,X'01a225a97c8f7956b0e6a7989740f897','24-000003',1,1,1,0,'mechanical','Ines',2,1772435944123456,8421337,'pass','',1795928194191989,832015281526,0,2,2,2,0,0,X'c37565bda53b7b9d994b66020b11a9eba2441f69eb86832f404214ba3a80e1b9','',NULL,0);
INSERT INTO run VALUES(6,X'01a225a97c917792a02dd4f8d26acfc5','24-000004',1,1,1,0,'mechanical','Ines',1,1772436004123456,8421337,'pass','',1795928194193303,832016594769,0,2,2,2,0,0,X'3c007cb111dee66bd2c584ab56664cbf2a53f3f5a2c751e7f1f42adbbde6c2cc','',NULL,0);
INSERT INTO run VALUES(7,X'01a225a97c92730ca6d9d95dd0ee8c14','24-000004',1,1,1,0,'electrical','Ines',1,1772436064123456,8421337,'pass','',1795928194194637,832017929717,0,2,2,2,0,0,X'05ce5ebcd0b81d46a6eb9573a741190e78a3ed11f95d1b5c3f4f28176c27fd2c','',NULL,0);
INSERT INTO run VALUES(8,X'01a225a97c937b3db9d8e3e2c782a0fe','24-000001',1,1,1,1,'electrical','Ines',1,1772436124123456,8421337,'pass','',1795928194195994,832019285892,0,2,2,2,0,0,X'd044581aaaa8638f22be632eecc8c7fc5ea7d17285388ee154262f328af113ed','',NULL,0);
INSERT INTO run VALUES(9,X'01a225a97c967b22940c9d0ce34614b8','REF-1',1,1,1,0,'electrical','Ines',1,1772436184123456,8421337,'pass','',1795928194198119,832021410769,0,2,2,2,0,0,X'0f15a3b5a2142db61a3c2e3c01dcd6ed1b6a3127673c8f24b4ed98d74ee16ff4','',NULL,0);
INSERT INTO run VALUES(10,X'01a225a97c9c7f158ef72603ee43b69c','24-000004',1,1,1,0,'mechanical','Ines',1,1772436244123456,8421337,'pass','',1795928194204255,832027547161,0,2,2,2,0,0,X'6d0f2b4a73f1aa8df2c3642f8016d7f6d1e2c5ab3feffec6a1907d07ff34964a','first press',1,0);
INSERT INTO run VALUES(11,X'01a225a97c9d7c66be17349722aca036','24-000004',1,1,1,0,'electrical','Ines',1,1772436304123456,8421337,'pass','',1795928194205504,832028796561,0,2,2,2,0,0,X'e1ab57d76f4c76f43534337a47df762f777c222be0adc8749e0af0a5472a89cd','return test',1,0);
CREATE TABLE run_step (
  run     INTEGER NOT NULL REFERENCES run DEFERRABLE INITIALLY DEFERRED,
  place   INTEGER NOT NULL,           -- order in the run, from 0
  step    INTEGER NOT NULL REFERENCES step,
  done    INTEGER NOT NULL CHECK (done IN (0, 1)),
  took_us INTEGER NOT NULL,
  PRIMARY KEY (run, place)
) STRICT, WITHOUT ROWID;
INSERT INTO run_step VALUES(1,0,1,1,61000);
INSERT INTO run_step VALUES(1,1,2,1,312000);
INSERT INTO run_step VALUES(2,0,1,1,61000);
INSERT INTO run_step VALUES(2,1,2,1,312000);
INSERT INTO run_step VALUES(3,0,1,1,61000);
INSERT INTO run_step VALUES(3,1,2,1,312000);
INSERT INTO run_step VALUES(4,0,1,1,61000);
INSERT INTO run_step VALUES(4,1,2,1,312000);
INSERT INTO run_step VALUES(5,0,1,1,61000);
INSERT INTO run_step VALUES(5,1,2,1,312000);
INSERT INTO run_step VALUES(6,0,1,1,61000);
INSERT INTO run_step VALUES(6,1,2,1,312000);
INSERT INTO run_step VALUES(7,0,1,1,61000);
INSERT INTO run_step VALUES(7,1,2,1,312000);
INSERT INTO run_step VALUES(8,0,1,1,61000);
INSERT INTO run_step VALUES(8,1,2,1,312000);
INSERT INTO run_step VALUES(9,0,1,1,61000);
INSERT INTO run_step VALUES(9,1,2,1,312000);
INSERT INTO run_step VALUES(10,0,1,1,61000);
INSERT INTO run_step VALUES(10,1,2,1,312000);
INSERT INTO run_step VALUES(11,0,1,1,61000);
INSERT INTO run_step VALUES(11,1,2,1,312000);
CREATE TABLE run_seat (
  run           INTEGER NOT NULL REFERENCES run DEFERRABLE INITIALLY DEFERRED,
  place         INTEGER NOT NULL,
  pin           INTEGER NOT NULL REFERENCES pin,
  good          INTEGER NOT NULL CHECK (good IN (0, 1)),
  loop_mohm     INTEGER,              -- NULL: open
  loop_u_mohm   INTEGER CHECK (loop_u_mohm >= 0),  -- NULL: unknown
  loop_at_least INTEGER NOT NULL CHECK (loop_at_least IN (0, 1)),
  PRIMARY KEY (run, place),
  CHECK (loop_mohm IS NOT NULL OR loop_at_least = 1)
) STRICT, WITHOUT ROWID;
INSERT INTO run_seat VALUES(1,0,1,1,412,30,0);
INSERT INTO run_seat VALUES(1,1,2,0,2000000000,0,1);
INSERT INTO run_seat VALUES(2,0,1,1,412,30,0);
INSERT INTO run_seat VALUES(2,1,2,0,2000000000,0,1);
INSERT INTO run_seat VALUES(3,0,1,1,412,30,0);
INSERT INTO run_seat VALUES(3,1,2,0,2000000000,0,1);
INSERT INTO run_seat VALUES(4,0,1,1,412,30,0);
INSERT INTO run_seat VALUES(4,1,2,0,2000000000,0,1);
INSERT INTO run_seat VALUES(5,0,1,1,412,30,0);
INSERT INTO run_seat VALUES(5,1,2,0,2000000000,0,1);
INSERT INTO run_seat VALUES(6,0,1,1,412,30,0);
INSERT INTO run_seat VALUES(6,1,2,0,2000000000,0,1);
INSERT INTO run_seat VALUES(7,0,1,1,412,30,0);
INSERT INTO run_seat VALUES(7,1,2,0,2000000000,0,1);
INSERT INTO run_seat VALUES(8,0,1,1,412,30,0);
INSERT INTO run_seat VALUES(8,1,2,0,2000000000,0,1);
INSERT INTO run_seat VALUES(9,0,1,1,412,30,0);
INSERT INTO run_seat VALUES(9,1,2,0,2000000000,0,1);
INSERT INTO run_seat VALUES(10,0,1,1,412,30,0);
INSERT INTO run_seat VALUES(10,1,2,0,2000000000,0,1);
INSERT INTO run_seat VALUES(11,0,1,1,412,30,0);
INSERT INTO run_seat VALUES(11,1,2,0,2000000000,0,1);
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
  forward_u_uv    INTEGER CHECK (forward_u_uv >= 0), reverse_mohm     INTEGER, reverse_u_mohm   INTEGER CHECK (reverse_u_mohm >= 0), reverse_at_least INTEGER CHECK (reverse_at_least IN (0, 1)),
  PRIMARY KEY (run, place),
  CHECK (closed_at_least IS NOT NULL OR (closed_mohm IS NULL AND closed_u_mohm IS NULL)),
  CHECK (closed_mohm IS NOT NULL OR closed_at_least IS NOT 0),
  CHECK ((make_us IS NULL) = (make_count IS NULL)),
  CHECK ((break_us IS NULL) = (break_count IS NULL)),
  CHECK (forward_uv IS NOT NULL OR forward_u_uv IS NULL)
) STRICT, WITHOUT ROWID;
INSERT INTO run_key VALUES(1,0,1,1,1000000,500,0,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL);
INSERT INTO run_key VALUES(1,1,2,1,1000000,500,0,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL);
INSERT INTO run_key VALUES(2,0,1,1,1000000,500,0,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL);
INSERT INTO run_key VALUES(2,1,2,1,1000000,500,0,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL);
INSERT INTO run_key VALUES(3,0,1,0,NULL,NULL,1,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL);
INSERT INTO run_key VALUES(3,1,2,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL);
INSERT INTO run_key VALUES(4,0,1,1,1000000,500,0,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL);
INSERT INTO run_key VALUES(4,1,2,1,1000000,500,0,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL);
INSERT INTO run_key VALUES(5,0,1,1,118204,350,0,1250,3,0,0,NULL,NULL,NULL,NULL,NULL);
INSERT INTO run_key VALUES(5,1,2,1,97500,300,0,NULL,NULL,NULL,NULL,612345,1000,NULL,NULL,NULL);
INSERT INTO run_key VALUES(6,0,1,1,118204,350,0,1250,3,0,0,NULL,NULL,NULL,NULL,NULL);
INSERT INTO run_key VALUES(6,1,2,1,97500,300,0,NULL,NULL,NULL,NULL,612345,1000,NULL,NULL,NULL);
INSERT INTO run_key VALUES(7,0,1,1,1000000,500,0,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL);
INSERT INTO run_key VALUES(7,1,2,1,1000000,500,0,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL);
INSERT INTO run_key VALUES(8,0,1,1,1000000,500,0,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL);
INSERT INTO run_key VALUES(8,1,2,1,1000000,500,0,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL);
INSERT INTO run_key VALUES(9,0,1,1,1000000,500,0,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL);
INSERT INTO run_key VALUES(9,1,2,1,1000000,500,0,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL);
INSERT INTO run_key VALUES(10,0,1,1,118204,350,0,1250,3,0,0,NULL,NULL,NULL,NULL,NULL);
INSERT INTO run_key VALUES(10,1,2,1,97500,300,0,NULL,NULL,NULL,NULL,612345,1000,NULL,NULL,NULL);
INSERT INTO run_key VALUES(11,0,1,1,1000000,500,0,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL);
INSERT INTO run_key VALUES(11,1,2,1,1000000,500,0,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL);
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
INSERT INTO run_pair VALUES(3,0,'R1','R2','',3217,20,0,NULL,NULL,NULL,NULL,NULL,NULL,'');
INSERT INTO run_pair VALUES(3,1,'C1','C2','2',9500000000000,100000000000,1,NULL,NULL,NULL,NULL,NULL,NULL,'');
INSERT INTO run_pair VALUES(4,0,'R1','R2','',3217,20,0,NULL,NULL,NULL,NULL,NULL,NULL,'');
INSERT INTO run_pair VALUES(4,1,'C1','C2','2',9500000000000,100000000000,1,NULL,NULL,NULL,NULL,NULL,NULL,'');
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
  unit       TEXT    NOT NULL,
  PRIMARY KEY (run, place),
  CHECK (value IS NULL OR value_open = 0)
) STRICT, WITHOUT ROWID;
INSERT INTO run_finding VALUES(3,0,'key open','key 1 (R1-C1)','1','["R1","C1"]','[1,6]',NULL,1,NULL,200.0,'ohm');
INSERT INTO run_finding VALUES(3,1,'short','lines R1 and R2','','["R1","R2"]','[1,2]',3.2170999999999998486,0,0.020000000000000000416,10000000.0,'ohm');
INSERT INTO run_finding VALUES(3,2,'odd','nowhere','','[]','[]',NULL,0,NULL,NULL,'');
INSERT INTO run_finding VALUES(4,0,'short','lines R1 and R2','','["R1","R2"]','[1,2]',3.2170999999999998486,0,0.020000000000000000416,10000000.0,'ohm');
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
  hash               BLOB    NOT NULL CHECK (length(hash) = 32),  -- SHA-256 of the canonical record
  CHECK (due_us = performed_us + interval_us),
  CHECK ((kind = 'verify') = (certificate_due_us IS NOT NULL)),
  CHECK ((kind = 'verify') = (certificate <> '')),
  CHECK (good = (reason = ''))
) STRICT;
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
CREATE TABLE reference_check (
  seq     INTEGER PRIMARY KEY,        -- 1, 2, 3 ... without a gap
  run     INTEGER NOT NULL UNIQUE REFERENCES run,  -- the run that was judged
  unit    TEXT    NOT NULL CHECK (unit <> ''),     -- serial number of the reference unit
  kind    TEXT    NOT NULL CHECK (kind IN ('good', 'bad')),  -- what the unit is known to be
  good    INTEGER NOT NULL CHECK (good IN (0, 1)),           -- it showed what it must
  why     TEXT    NOT NULL,           -- why not; empty if it did
  CHECK (good = (why = ''))
) STRICT;
INSERT INTO reference_check VALUES(1,9,'REF-1','good',1,'');
CREATE TABLE wear_event (
  seq        INTEGER PRIMARY KEY,     -- 1, 2, 3 ... without a gap
  jig        TEXT    NOT NULL CHECK (jig <> ''),   -- serial number
  part       TEXT    NOT NULL CHECK (part = 'nest' OR part GLOB 'actuator [1-9]*'),
  kind       TEXT    NOT NULL CHECK (kind IN ('replaced', 'limits')),
  after_run  INTEGER NOT NULL,        -- run.seq of the newest run at saving, 0: none
  warn       INTEGER CHECK (warn > 0),             -- uses; NULL for a replacement
  block      INTEGER CHECK (block >= warn),
  by         TEXT    NOT NULL CHECK (by <> ''),
  note       TEXT    NOT NULL,
  at_us      INTEGER NOT NULL,
  CHECK ((kind = 'limits') = (warn IS NOT NULL AND block IS NOT NULL))
) STRICT;
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
INSERT INTO return_case VALUES(1,X'01a225a97c9a7cb8b636593b6589d7b8','24-000004','GH-20',9,'Jon',1795928194202702,X'90f819553cf684b50b6922ca93953dbb3425d5738cc838f70a0ad5b5bd77bbc5');
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
INSERT INTO return_intake VALUES(1,1,1795928194202549,'no key works','','[]','',0,'x','','Jon',1795928194202881,X'16120c5b2b1139e4e1f72c37955a9e526d2904f6d318c563f5b1da0410a0c8d2');
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
CREATE TABLE return_diagnosis (
  seq         INTEGER PRIMARY KEY,
  return_case INTEGER NOT NULL REFERENCES return_case,
  run         INTEGER NOT NULL REFERENCES run,  -- whose readings were explained
  causes      TEXT    NOT NULL CHECK (json_type(causes) = 'array'),
  software    TEXT    NOT NULL,       -- version of padjig
  at_us       INTEGER NOT NULL,
  hash        BLOB    NOT NULL CHECK (length(hash) = 32)
) STRICT;
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
  flexed_more    INTEGER NOT NULL CHECK (flexed_more IN (0, 1)),
  PRIMARY KEY (run, place),
  CHECK ((least_mohm IS NULL) = (most_mohm IS NULL))
) STRICT, WITHOUT ROWID;
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
  at_us      INTEGER NOT NULL,
  UNIQUE (plan, name)
) STRICT;
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
INSERT INTO cell VALUES(1,492343,0,1,1,0,'Ines','electrical',0,'',1,9,4,0,0,0,3,2,2,1,0,0);
INSERT INTO cell VALUES(2,492343,0,1,1,0,'Ines','mechanical',0,'',3,6,3,0,0,0,1,1,1,2,1,1);
INSERT INTO cell VALUES(3,492343,0,1,1,0,'Ines','electrical',1,'',8,8,1,0,0,0,1,1,1,0,0,0);
INSERT INTO cell VALUES(4,492343,0,1,1,0,'Ines','electrical',0,'reference',9,9,1,0,0,0,1,1,1,0,0,0);
INSERT INTO cell VALUES(5,492343,0,1,1,0,'Ines','mechanical',0,'first press',10,10,1,0,0,0,1,1,1,0,0,0);
INSERT INTO cell VALUES(6,492343,0,1,1,0,'Ines','electrical',0,'return test',11,11,1,0,0,0,1,1,1,0,0,0);
CREATE TABLE cell_reading (
  cell   INTEGER PRIMARY KEY REFERENCES cell,
  packed BLOB NOT NULL                -- closed resistance of each key at the first judged runs
) STRICT;
INSERT INTO cell_reading VALUES(1,X'01010300809bee020080e0bcefa75780897a80897a01fd0303020300809bee020080e0bcefa75780897a80897a01fd0303');
INSERT INTO cell_reading VALUES(2,X'01010100f8b60e0090c4ba8634f8b60ef8b60e01990301020100b8f30b0090baf7b423b8f30bb8f30b018f0301');
INSERT INTO cell_reading VALUES(3,X'0101010080897a0080a094a58d1d80897a80897a01fd030102010080897a0080a094a58d1d80897a80897a01fd0301');
INSERT INTO cell_reading VALUES(4,X'0101010080897a0080a094a58d1d80897a80897a01fd030102010080897a0080a094a58d1d80897a80897a01fd0301');
INSERT INTO cell_reading VALUES(5,X'01010100f8b60e0090c4ba8634f8b60ef8b60e01990301020100b8f30b0090baf7b423b8f30bb8f30b018f0301');
INSERT INTO cell_reading VALUES(6,X'0101010080897a0080a094a58d1d80897a80897a01fd030102010080897a0080a094a58d1d80897a80897a01fd0301');
CREATE TABLE fault (
  fault    INTEGER PRIMARY KEY,
  what     TEXT NOT NULL,
  location TEXT NOT NULL,
  key      TEXT NOT NULL,
  lines    TEXT NOT NULL CHECK (json_type(lines) = 'array'),
  pins     TEXT NOT NULL CHECK (json_type(pins) = 'array'),
  UNIQUE (what, location, key, lines, pins)
) STRICT;
INSERT INTO fault VALUES(1,'key open','key 1 (R1-C1)','1','["R1","C1"]','[1,6]');
INSERT INTO fault VALUES(2,'short','lines R1 and R2','','["R1","R2"]','[1,2]');
INSERT INTO fault VALUES(3,'odd','nowhere','','[]','[]');
CREATE TABLE cell_finding (
  cell  INTEGER NOT NULL REFERENCES cell,
  fault INTEGER NOT NULL REFERENCES fault,
  units INTEGER NOT NULL,             -- first judged runs with this finding
  worst INTEGER NOT NULL,             -- of those: it is the worst finding of the run
  runs  INTEGER NOT NULL,             -- all runs with this finding
  PRIMARY KEY (cell, fault)
) STRICT, WITHOUT ROWID;
INSERT INTO cell_finding VALUES(1,2,1,1,1);
INSERT INTO cell_finding VALUES(2,1,0,0,1);
INSERT INTO cell_finding VALUES(2,2,0,0,1);
INSERT INTO cell_finding VALUES(2,3,0,0,1);
CREATE TABLE run_cell (
  run  INTEGER PRIMARY KEY REFERENCES run,
  cell INTEGER NOT NULL REFERENCES cell,
  turn INTEGER NOT NULL               -- 1: first judged run of the unit, 2: second ...; 0: not judged
) STRICT;
INSERT INTO run_cell VALUES(1,1,1);
INSERT INTO run_cell VALUES(2,1,1);
INSERT INTO run_cell VALUES(3,2,2);
INSERT INTO run_cell VALUES(4,1,1);
INSERT INTO run_cell VALUES(5,2,2);
INSERT INTO run_cell VALUES(6,2,1);
INSERT INTO run_cell VALUES(7,1,2);
INSERT INTO run_cell VALUES(8,3,1);
INSERT INTO run_cell VALUES(9,4,1);
INSERT INTO run_cell VALUES(10,5,1);
INSERT INTO run_cell VALUES(11,6,1);
CREATE TABLE account_event (
  seq    INTEGER PRIMARY KEY,         -- 1, 2, 3 ... without a gap
  name   TEXT    NOT NULL CHECK (name <> ''),
  kind   TEXT    NOT NULL CHECK (kind IN ('role', 'password', 'badge', 'closed')),
  role   TEXT    NOT NULL CHECK ((kind = 'role') = (role IN ('operator', 'quality', 'returns', 'engineer'))),
  secret TEXT    NOT NULL,            -- Argon2id of a password; SHA-256 of a badge's code, hexadecimal; else empty
  by     TEXT    NOT NULL CHECK (by <> ''),
  at_us  INTEGER NOT NULL,
  CHECK ((kind IN ('password', 'badge')) = (secret <> ''))
) STRICT;
CREATE TABLE session (
  seq   INTEGER PRIMARY KEY,          -- 1, 2, 3 ... without a gap
  hash  BLOB    NOT NULL UNIQUE CHECK (length(hash) = 32),  -- SHA-256 of the browser's token
  name  TEXT    NOT NULL CHECK (name <> ''),
  how   TEXT    NOT NULL CHECK (how IN ('password', 'badge')),
  at_us INTEGER NOT NULL
) STRICT;
CREATE TABLE session_end (
  session INTEGER PRIMARY KEY REFERENCES session,
  at_us   INTEGER NOT NULL
) STRICT;
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
) STRICT;
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
CREATE TABLE gauge_reading (
  seq       INTEGER PRIMARY KEY,      -- 1, 2, 3 ... without a gap
  study     INTEGER NOT NULL REFERENCES gauge_study,
  place     INTEGER NOT NULL CHECK (place >= 0),   -- in the plan, from 0
  run       INTEGER NOT NULL UNIQUE REFERENCES run,
  hash      BLOB    NOT NULL CHECK (length(hash) = 32),
  UNIQUE (study, place)
) STRICT;
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
CREATE INDEX run_serial ON run (serial);
CREATE TRIGGER migration_no_update BEFORE UPDATE ON migration
BEGIN SELECT RAISE(ABORT, 'padjig: migration is append-only'); END;
CREATE TRIGGER migration_no_delete BEFORE DELETE ON migration
BEGIN SELECT RAISE(ABORT, 'padjig: migration is append-only'); END;
CREATE TRIGGER migration_no_replace BEFORE INSERT ON migration
WHEN EXISTS (SELECT 1 FROM migration WHERE version = NEW.version)
BEGIN SELECT RAISE(ABORT, 'padjig: migration is append-only'); END;
CREATE TRIGGER revision_no_update BEFORE UPDATE ON revision
BEGIN SELECT RAISE(ABORT, 'padjig: revision is append-only'); END;
CREATE TRIGGER revision_no_delete BEFORE DELETE ON revision
BEGIN SELECT RAISE(ABORT, 'padjig: revision is append-only'); END;
CREATE TRIGGER revision_no_replace BEFORE INSERT ON revision
WHEN EXISTS (SELECT 1 FROM revision WHERE revision = NEW.revision)
  OR EXISTS (SELECT 1 FROM revision
             WHERE hash = NEW.hash AND code = NEW.code AND title = NEW.title AND label = NEW.label)
BEGIN SELECT RAISE(ABORT, 'padjig: revision is append-only'); END;
CREATE TRIGGER key_no_update BEFORE UPDATE ON key
BEGIN SELECT RAISE(ABORT, 'padjig: key is append-only'); END;
CREATE TRIGGER key_no_delete BEFORE DELETE ON key
BEGIN SELECT RAISE(ABORT, 'padjig: key is append-only'); END;
CREATE TRIGGER key_no_replace BEFORE INSERT ON key
WHEN EXISTS (SELECT 1 FROM key WHERE key = NEW.key)
  OR EXISTS (SELECT 1 FROM key
             WHERE revision = NEW.revision AND label = NEW.label AND line_a = NEW.line_a AND line_b = NEW.line_b)
BEGIN SELECT RAISE(ABORT, 'padjig: key is append-only'); END;
CREATE TRIGGER pin_no_update BEFORE UPDATE ON pin
BEGIN SELECT RAISE(ABORT, 'padjig: pin is append-only'); END;
CREATE TRIGGER pin_no_delete BEFORE DELETE ON pin
BEGIN SELECT RAISE(ABORT, 'padjig: pin is append-only'); END;
CREATE TRIGGER pin_no_replace BEFORE INSERT ON pin
WHEN EXISTS (SELECT 1 FROM pin WHERE pin = NEW.pin)
  OR EXISTS (SELECT 1 FROM pin
             WHERE revision = NEW.revision AND number = NEW.number AND line = NEW.line)
BEGIN SELECT RAISE(ABORT, 'padjig: pin is append-only'); END;
CREATE TRIGGER step_no_update BEFORE UPDATE ON step
BEGIN SELECT RAISE(ABORT, 'padjig: step is append-only'); END;
CREATE TRIGGER step_no_delete BEFORE DELETE ON step
BEGIN SELECT RAISE(ABORT, 'padjig: step is append-only'); END;
CREATE TRIGGER step_no_replace BEFORE INSERT ON step
WHEN EXISTS (SELECT 1 FROM step WHERE step = NEW.step)
  OR EXISTS (SELECT 1 FROM step WHERE name = NEW.name)
BEGIN SELECT RAISE(ABORT, 'padjig: step is append-only'); END;
CREATE TRIGGER jig_no_update BEFORE UPDATE ON jig
BEGIN SELECT RAISE(ABORT, 'padjig: jig is append-only'); END;
CREATE TRIGGER jig_no_delete BEFORE DELETE ON jig
BEGIN SELECT RAISE(ABORT, 'padjig: jig is append-only'); END;
CREATE TRIGGER jig_no_replace BEFORE INSERT ON jig
WHEN EXISTS (SELECT 1 FROM jig WHERE jig = NEW.jig)
  OR EXISTS (SELECT 1 FROM jig
             WHERE serial = NEW.serial AND model = NEW.model AND firmware = NEW.firmware AND adapter = NEW.adapter)
BEGIN SELECT RAISE(ABORT, 'padjig: jig is append-only'); END;
CREATE TRIGGER station_no_update BEFORE UPDATE ON station
BEGIN SELECT RAISE(ABORT, 'padjig: station is append-only'); END;
CREATE TRIGGER station_no_delete BEFORE DELETE ON station
BEGIN SELECT RAISE(ABORT, 'padjig: station is append-only'); END;
CREATE TRIGGER station_no_replace BEFORE INSERT ON station
WHEN EXISTS (SELECT 1 FROM station WHERE station = NEW.station)
  OR EXISTS (SELECT 1 FROM station
             WHERE host = NEW.host AND software = NEW.software AND boot_id = NEW.boot_id)
BEGIN SELECT RAISE(ABORT, 'padjig: station is append-only'); END;
CREATE TRIGGER run_no_update BEFORE UPDATE ON run
BEGIN SELECT RAISE(ABORT, 'padjig: run is append-only'); END;
CREATE TRIGGER run_no_delete BEFORE DELETE ON run
BEGIN SELECT RAISE(ABORT, 'padjig: run is append-only'); END;
CREATE TRIGGER run_step_no_update BEFORE UPDATE ON run_step
BEGIN SELECT RAISE(ABORT, 'padjig: run_step is append-only'); END;
CREATE TRIGGER run_step_no_delete BEFORE DELETE ON run_step
BEGIN SELECT RAISE(ABORT, 'padjig: run_step is append-only'); END;
CREATE TRIGGER run_step_no_replace BEFORE INSERT ON run_step
WHEN EXISTS (SELECT 1 FROM run WHERE seq = NEW.run)
BEGIN SELECT RAISE(ABORT, 'padjig: run_step is append-only'); END;
CREATE TRIGGER run_seat_no_update BEFORE UPDATE ON run_seat
BEGIN SELECT RAISE(ABORT, 'padjig: run_seat is append-only'); END;
CREATE TRIGGER run_seat_no_delete BEFORE DELETE ON run_seat
BEGIN SELECT RAISE(ABORT, 'padjig: run_seat is append-only'); END;
CREATE TRIGGER run_seat_no_replace BEFORE INSERT ON run_seat
WHEN EXISTS (SELECT 1 FROM run WHERE seq = NEW.run)
BEGIN SELECT RAISE(ABORT, 'padjig: run_seat is append-only'); END;
CREATE TRIGGER run_key_no_update BEFORE UPDATE ON run_key
BEGIN SELECT RAISE(ABORT, 'padjig: run_key is append-only'); END;
CREATE TRIGGER run_key_no_delete BEFORE DELETE ON run_key
BEGIN SELECT RAISE(ABORT, 'padjig: run_key is append-only'); END;
CREATE TRIGGER run_key_no_replace BEFORE INSERT ON run_key
WHEN EXISTS (SELECT 1 FROM run WHERE seq = NEW.run)
BEGIN SELECT RAISE(ABORT, 'padjig: run_key is append-only'); END;
CREATE TRIGGER run_pair_no_update BEFORE UPDATE ON run_pair
BEGIN SELECT RAISE(ABORT, 'padjig: run_pair is append-only'); END;
CREATE TRIGGER run_pair_no_delete BEFORE DELETE ON run_pair
BEGIN SELECT RAISE(ABORT, 'padjig: run_pair is append-only'); END;
CREATE TRIGGER run_pair_no_replace BEFORE INSERT ON run_pair
WHEN EXISTS (SELECT 1 FROM run WHERE seq = NEW.run)
BEGIN SELECT RAISE(ABORT, 'padjig: run_pair is append-only'); END;
CREATE TRIGGER run_finding_no_update BEFORE UPDATE ON run_finding
BEGIN SELECT RAISE(ABORT, 'padjig: run_finding is append-only'); END;
CREATE TRIGGER run_finding_no_delete BEFORE DELETE ON run_finding
BEGIN SELECT RAISE(ABORT, 'padjig: run_finding is append-only'); END;
CREATE TRIGGER run_finding_no_replace BEFORE INSERT ON run_finding
WHEN EXISTS (SELECT 1 FROM run WHERE seq = NEW.run)
BEGIN SELECT RAISE(ABORT, 'padjig: run_finding is append-only'); END;
CREATE TRIGGER run_complete BEFORE INSERT ON run
WHEN NEW.steps    <> (SELECT count(*) FROM run_step    WHERE run = NEW.seq)
  OR NEW.seats    <> (SELECT count(*) FROM run_seat    WHERE run = NEW.seq)
  OR NEW.keys     <> (SELECT count(*) FROM run_key     WHERE run = NEW.seq)
  OR NEW.pairs    <> (SELECT count(*) FROM run_pair    WHERE run = NEW.seq)
  OR NEW.findings <> (SELECT count(*) FROM run_finding WHERE run = NEW.seq)
BEGIN SELECT RAISE(ABORT, 'padjig: a part of the run is missing'); END;
CREATE TRIGGER run_pass BEFORE INSERT ON run
WHEN NEW.outcome = 'pass' AND (
     NEW.keys = 0
  OR NEW.findings > 0
  OR EXISTS (SELECT 1 FROM run_key  WHERE run = NEW.seq AND passed IS NOT 1)
  OR EXISTS (SELECT 1 FROM run_step WHERE run = NEW.seq AND done = 0))
BEGIN SELECT RAISE(ABORT, 'padjig: the run does not support a pass'); END;
CREATE VIEW seats AS
SELECT run.seq, run.serial, run_seat.place, pin.number AS pin, pin.line, good,
       loop_mohm / 1e3 AS loop_ohm, loop_u_mohm / 1e3 AS loop_u_ohm, loop_at_least
FROM run_seat JOIN run ON run.seq = run_seat.run JOIN pin USING (pin);
CREATE VIEW steps AS
SELECT run.seq, run.serial, run_step.place, step.name AS step, done, took_us / 1e3 AS took_ms
FROM run_step JOIN run ON run.seq = run_step.run JOIN step USING (step);
CREATE VIEW findings AS
SELECT run.seq, run.serial, run.outcome, run_finding.place, what, location, key, lines, pins,
       value, value_open, u, "limit", unit
FROM run_finding JOIN run ON run.seq = run_finding.run;
CREATE INDEX calibration_jig ON calibration (jig, kind);
CREATE TRIGGER calibration_no_update BEFORE UPDATE ON calibration
BEGIN SELECT RAISE(ABORT, 'padjig: calibration is append-only'); END;
CREATE TRIGGER calibration_no_delete BEFORE DELETE ON calibration
BEGIN SELECT RAISE(ABORT, 'padjig: calibration is append-only'); END;
CREATE TRIGGER calibration_reading_no_update BEFORE UPDATE ON calibration_reading
BEGIN SELECT RAISE(ABORT, 'padjig: calibration_reading is append-only'); END;
CREATE TRIGGER calibration_reading_no_delete BEFORE DELETE ON calibration_reading
BEGIN SELECT RAISE(ABORT, 'padjig: calibration_reading is append-only'); END;
CREATE TRIGGER calibration_reading_no_replace BEFORE INSERT ON calibration_reading
WHEN EXISTS (SELECT 1 FROM calibration WHERE seq = NEW.calibration)
BEGIN SELECT RAISE(ABORT, 'padjig: calibration_reading is append-only'); END;
CREATE TRIGGER calibration_no_replace BEFORE INSERT ON calibration
WHEN NEW.seq IS NOT (SELECT coalesce(max(seq), 0) + 1 FROM calibration)
  OR EXISTS (SELECT 1 FROM calibration WHERE id = NEW.id)
BEGIN SELECT RAISE(ABORT, 'padjig: calibration is append-only'); END;
CREATE TRIGGER calibration_complete BEFORE INSERT ON calibration
WHEN NEW.readings <> (SELECT count(*) FROM calibration_reading WHERE calibration = NEW.seq)
BEGIN SELECT RAISE(ABORT, 'padjig: a part of the calibration is missing'); END;
CREATE TRIGGER calibration_after_run BEFORE INSERT ON calibration
WHEN NEW.after_run IS NOT (SELECT coalesce(max(seq), 0) FROM run)
BEGIN SELECT RAISE(ABORT, 'padjig: the calibration does not follow the newest run'); END;
CREATE TRIGGER calibration_good BEFORE INSERT ON calibration
WHEN NEW.good = 1
 AND EXISTS (SELECT 1 FROM calibration_reading WHERE calibration = NEW.seq AND good = 0)
BEGIN SELECT RAISE(ABORT, 'padjig: the readings do not support a good calibration'); END;
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
CREATE VIEW calibration_readings AS
SELECT calibration.seq, kind, jig.serial AS jig, calibration_reading.place, channel, mate, resistor,
       reference_ohm, certified_ohm, certified_u_ohm, ohm, u_ohm, deviation_ohm, deviation_u_ohm, limit_ohm,
       calibration_reading.good
FROM calibration_reading JOIN calibration ON calibration.seq = calibration_reading.calibration JOIN jig USING (jig);
CREATE INDEX reference_check_unit ON reference_check (unit, seq);
CREATE INDEX run_jig ON run (jig, actuation);
CREATE TRIGGER reference_check_no_update BEFORE UPDATE ON reference_check
BEGIN SELECT RAISE(ABORT, 'padjig: reference_check is append-only'); END;
CREATE TRIGGER reference_check_no_delete BEFORE DELETE ON reference_check
BEGIN SELECT RAISE(ABORT, 'padjig: reference_check is append-only'); END;
CREATE TRIGGER reference_check_no_replace BEFORE INSERT ON reference_check
WHEN NEW.seq IS NOT (SELECT coalesce(max(seq), 0) + 1 FROM reference_check)
  OR EXISTS (SELECT 1 FROM reference_check WHERE run = NEW.run)
BEGIN SELECT RAISE(ABORT, 'padjig: reference_check is append-only'); END;
CREATE TRIGGER wear_event_no_update BEFORE UPDATE ON wear_event
BEGIN SELECT RAISE(ABORT, 'padjig: wear_event is append-only'); END;
CREATE TRIGGER wear_event_no_delete BEFORE DELETE ON wear_event
BEGIN SELECT RAISE(ABORT, 'padjig: wear_event is append-only'); END;
CREATE TRIGGER wear_event_no_replace BEFORE INSERT ON wear_event
WHEN NEW.seq IS NOT (SELECT coalesce(max(seq), 0) + 1 FROM wear_event)
BEGIN SELECT RAISE(ABORT, 'padjig: wear_event is append-only'); END;
CREATE VIEW reference_checks AS
SELECT reference_check.seq, run.seq AS run_seq, jig.serial AS jig, revision.code AS product, unit, kind,
       reference_check.good, why, simulated,
       strftime('%Y-%m-%dT%H:%M:%S', started_us / 1000000, 'unixepoch') ||
       printf('.%06dZ', started_us % 1000000) AS started
FROM reference_check JOIN run ON run.seq = reference_check.run
JOIN jig USING (jig) JOIN revision USING (revision);
CREATE VIEW wear_events AS
SELECT seq, jig, part, kind, after_run, warn, block, by, note,
       strftime('%Y-%m-%dT%H:%M:%S', at_us / 1000000, 'unixepoch') ||
       printf('.%06dZ', at_us % 1000000) AS at
FROM wear_event;
CREATE VIEW keys AS
SELECT run.seq, run.serial, run.outcome, run.simulated,
       run_key.place, key.label AS key, key.line_a, key.line_b,
       CASE passed WHEN 1 THEN 'pass' WHEN 0 THEN 'fail' ELSE 'untested' END AS verdict,
       closed_mohm / 1e3 AS closed_ohm, closed_u_mohm / 1e3 AS closed_u_ohm, closed_at_least,
       make_us / 1e3 AS make_ms, make_count, break_us / 1e3 AS break_ms, break_count,
       forward_uv / 1e6 AS forward_volt, forward_u_uv / 1e6 AS forward_u_volt,
       reverse_mohm / 1e3 AS reverse_ohm, reverse_u_mohm / 1e3 AS reverse_u_ohm, reverse_at_least
FROM run_key JOIN run ON run.seq = run_key.run JOIN key USING (key);
CREATE VIEW pairs AS
SELECT run.seq, run.serial, run_pair.place, line_a, line_b, held,
       mohm / 1e3 AS ohm, u_mohm / 1e3 AS u_ohm, at_least,
       forward_mohm / 1e3 AS forward_ohm, forward_u_mohm / 1e3 AS forward_u_ohm, forward_at_least,
       backward_mohm / 1e3 AS backward_ohm, backward_u_mohm / 1e3 AS backward_u_ohm, backward_at_least, trend
FROM run_pair JOIN run ON run.seq = run_pair.run;
CREATE INDEX return_case_serial ON return_case (serial);
CREATE INDEX return_intake_case ON return_intake (return_case);
CREATE INDEX return_photo_case ON return_photo (return_case);
CREATE INDEX return_diagnosis_case ON return_diagnosis (return_case);
CREATE INDEX return_disposition_case ON return_disposition (return_case);
CREATE INDEX rework_serial ON rework (serial);
CREATE INDEX run_return_case ON run (return_case) WHERE return_case IS NOT NULL;
CREATE TRIGGER run_exercise_no_update BEFORE UPDATE ON run_exercise
BEGIN SELECT RAISE(ABORT, 'padjig: run_exercise is append-only'); END;
CREATE TRIGGER run_exercise_no_delete BEFORE DELETE ON run_exercise
BEGIN SELECT RAISE(ABORT, 'padjig: run_exercise is append-only'); END;
CREATE TRIGGER run_exercise_no_replace BEFORE INSERT ON run_exercise
WHEN EXISTS (SELECT 1 FROM run WHERE seq = NEW.run)
BEGIN SELECT RAISE(ABORT, 'padjig: run_exercise is append-only'); END;
CREATE TRIGGER run_exercise_complete BEFORE INSERT ON run
WHEN NEW.exercised <> (SELECT count(*) FROM run_exercise WHERE run = NEW.seq)
BEGIN SELECT RAISE(ABORT, 'padjig: a part of the run is missing'); END;
CREATE TRIGGER run_case BEFORE INSERT ON run
WHEN NEW.return_case IS NOT NULL
 AND NEW.serial IS NOT (SELECT serial FROM return_case WHERE seq = NEW.return_case)
BEGIN SELECT RAISE(ABORT, 'padjig: the returns case is of another unit'); END;
CREATE TRIGGER run_case_closed BEFORE INSERT ON run
WHEN NEW.return_case IS NOT NULL AND 'reopened' <>
  (SELECT disposition FROM return_disposition WHERE return_case = NEW.return_case ORDER BY seq DESC LIMIT 1)
BEGIN SELECT RAISE(ABORT, 'padjig: the returns case is closed'); END;
CREATE TRIGGER run_case_damaged BEFORE INSERT ON run
WHEN NEW.return_case IS NOT NULL AND 0 IS NOT
  (SELECT ends_testing FROM return_intake WHERE return_case = NEW.return_case ORDER BY seq DESC LIMIT 1)
BEGIN SELECT RAISE(ABORT, 'padjig: visible damage ended electrical testing'); END;
CREATE TRIGGER run_case_once BEFORE INSERT ON run
WHEN NEW.purpose = 'first press' AND EXISTS
  (SELECT 1 FROM run WHERE return_case = NEW.return_case AND purpose = 'first press'
     AND outcome IN ('pass', 'fail', 'incomplete'))
BEGIN SELECT RAISE(ABORT, 'padjig: a second press is no first press'); END;
CREATE TRIGGER run_case_simulated BEFORE INSERT ON run
WHEN EXISTS (SELECT 1 FROM run WHERE return_case = NEW.return_case AND simulated <> NEW.simulated)
BEGIN SELECT RAISE(ABORT, 'padjig: a returns case is on simulated jigs or on real ones, not both'); END;
CREATE TRIGGER run_case_order BEFORE INSERT ON run
WHEN NEW.purpose IN ('return test', 'exercise') AND NOT EXISTS
  (SELECT 1 FROM run WHERE return_case = NEW.return_case AND outcome IN ('pass', 'fail', 'incomplete')
     AND purpose = iif(NEW.purpose = 'exercise', 'return test', 'first press'))
BEGIN SELECT RAISE(ABORT, 'padjig: the stage of the returns case before this one is missing'); END;
CREATE TRIGGER return_case_no_update BEFORE UPDATE ON return_case
BEGIN SELECT RAISE(ABORT, 'padjig: return_case is append-only'); END;
CREATE TRIGGER return_case_no_delete BEFORE DELETE ON return_case
BEGIN SELECT RAISE(ABORT, 'padjig: return_case is append-only'); END;
CREATE TRIGGER return_case_no_replace BEFORE INSERT ON return_case
WHEN NEW.seq IS NOT (SELECT coalesce(max(seq), 0) + 1 FROM return_case)
  OR EXISTS (SELECT 1 FROM return_case WHERE id = NEW.id)
BEGIN SELECT RAISE(ABORT, 'padjig: return_case is append-only'); END;
CREATE TRIGGER return_intake_no_update BEFORE UPDATE ON return_intake
BEGIN SELECT RAISE(ABORT, 'padjig: return_intake is append-only'); END;
CREATE TRIGGER return_intake_no_delete BEFORE DELETE ON return_intake
BEGIN SELECT RAISE(ABORT, 'padjig: return_intake is append-only'); END;
CREATE TRIGGER return_intake_no_replace BEFORE INSERT ON return_intake
WHEN NEW.seq IS NOT (SELECT coalesce(max(seq), 0) + 1 FROM return_intake)
BEGIN SELECT RAISE(ABORT, 'padjig: return_intake is append-only'); END;
CREATE TRIGGER return_photo_no_update BEFORE UPDATE ON return_photo
BEGIN SELECT RAISE(ABORT, 'padjig: return_photo is append-only'); END;
CREATE TRIGGER return_photo_no_delete BEFORE DELETE ON return_photo
BEGIN SELECT RAISE(ABORT, 'padjig: return_photo is append-only'); END;
CREATE TRIGGER return_photo_no_replace BEFORE INSERT ON return_photo
WHEN NEW.seq IS NOT (SELECT coalesce(max(seq), 0) + 1 FROM return_photo)
BEGIN SELECT RAISE(ABORT, 'padjig: return_photo is append-only'); END;
CREATE TRIGGER return_diagnosis_no_update BEFORE UPDATE ON return_diagnosis
BEGIN SELECT RAISE(ABORT, 'padjig: return_diagnosis is append-only'); END;
CREATE TRIGGER return_diagnosis_no_delete BEFORE DELETE ON return_diagnosis
BEGIN SELECT RAISE(ABORT, 'padjig: return_diagnosis is append-only'); END;
CREATE TRIGGER return_diagnosis_no_replace BEFORE INSERT ON return_diagnosis
WHEN NEW.seq IS NOT (SELECT coalesce(max(seq), 0) + 1 FROM return_diagnosis)
BEGIN SELECT RAISE(ABORT, 'padjig: return_diagnosis is append-only'); END;
CREATE TRIGGER return_disposition_no_update BEFORE UPDATE ON return_disposition
BEGIN SELECT RAISE(ABORT, 'padjig: return_disposition is append-only'); END;
CREATE TRIGGER return_disposition_no_delete BEFORE DELETE ON return_disposition
BEGIN SELECT RAISE(ABORT, 'padjig: return_disposition is append-only'); END;
CREATE TRIGGER return_disposition_no_replace BEFORE INSERT ON return_disposition
WHEN NEW.seq IS NOT (SELECT coalesce(max(seq), 0) + 1 FROM return_disposition)
BEGIN SELECT RAISE(ABORT, 'padjig: return_disposition is append-only'); END;
CREATE TRIGGER rework_no_update BEFORE UPDATE ON rework
BEGIN SELECT RAISE(ABORT, 'padjig: rework is append-only'); END;
CREATE TRIGGER rework_no_delete BEFORE DELETE ON rework
BEGIN SELECT RAISE(ABORT, 'padjig: rework is append-only'); END;
CREATE TRIGGER rework_no_replace BEFORE INSERT ON rework
WHEN NEW.seq IS NOT (SELECT coalesce(max(seq), 0) + 1 FROM rework)
BEGIN SELECT RAISE(ABORT, 'padjig: rework is append-only'); END;
CREATE TRIGGER run_no_replace BEFORE INSERT ON run
WHEN NEW.seq IS NOT (SELECT coalesce(max(seq), 0) + 1 FROM run)
  OR EXISTS (SELECT 1 FROM run WHERE id = NEW.id)
BEGIN SELECT RAISE(ABORT, 'padjig: run is append-only'); END;
CREATE VIEW runs AS
SELECT run.seq,
       substr(lower(hex(id)), 1, 8) || '-' || substr(lower(hex(id)), 9, 4) || '-' ||
       substr(lower(hex(id)), 13, 4) || '-' || substr(lower(hex(id)), 17, 4) || '-' ||
       substr(lower(hex(id)), 21) AS run,
       run.serial, revision.code AS product, revision.label AS revision, revision.hash AS revision_hash,
       outcome, reason, attempt, simulated, actuation, operator,
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
CREATE VIEW exercises AS
SELECT run.seq, run.serial, run.outcome, run.simulated, run_exercise.place, key.label AS key,
       presses, misses, high, sticks, first_bad,
       least_mohm / 1e3 AS least_ohm, least_u_mohm / 1e3 AS least_u_ohm,
       most_mohm / 1e3 AS most_ohm, most_u_mohm / 1e3 AS most_u_ohm,
       make_us / 1e3 AS make_ms, break_us / 1e3 AS break_ms,
       held_us / 1e6 AS held_seconds, held_opened, held_longest_us / 1e3 AS held_longest_ms, held_more,
       flexed_us / 1e6 AS flexed_seconds, flexed_opened, flexed_longest_us / 1e3 AS flexed_longest_ms, flexed_more
FROM run_exercise JOIN run ON run.seq = run_exercise.run JOIN key USING (key);
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
CREATE VIEW return_intakes AS
SELECT seq, return_case AS number, strftime('%Y-%m-%dT%H:%M:%S', received_us / 1000000, 'unixepoch') ||
       printf('.%06dZ', received_us % 1000000) AS received,
       complaint, complaint_text, conditions, condition_text, ends_testing, customer, lot, by,
       strftime('%Y-%m-%dT%H:%M:%S', at_us / 1000000, 'unixepoch') ||
       printf('.%06dZ', at_us % 1000000) AS at
FROM return_intake;
CREATE VIEW return_stages AS
SELECT return_case AS number, run.seq, run.serial, purpose AS stage, outcome, findings, simulated,
       (SELECT what || ': ' || location FROM run_finding WHERE run = run.seq AND place = 0) AS worst,
       strftime('%Y-%m-%dT%H:%M:%S', started_us / 1000000, 'unixepoch') ||
       printf('.%06dZ', started_us % 1000000) AS started
FROM run WHERE return_case IS NOT NULL;
CREATE VIEW return_photos AS
SELECT seq, return_case AS number, lower(hex(sha256)) AS sha256,
       substr(lower(hex(sha256)), 1, 2) || '/' || substr(lower(hex(sha256)), 3) AS file,
       bytes, content_type, name, note, by, strftime('%Y-%m-%dT%H:%M:%S', at_us / 1000000, 'unixepoch') ||
       printf('.%06dZ', at_us % 1000000) AS at
FROM return_photo;
CREATE VIEW return_diagnoses AS
SELECT seq, return_case AS number, run, causes, software, strftime('%Y-%m-%dT%H:%M:%S', at_us / 1000000, 'unixepoch') ||
       printf('.%06dZ', at_us % 1000000) AS at
FROM return_diagnosis;
CREATE VIEW return_dispositions AS
SELECT seq, return_case AS number, disposition, reason, by, strftime('%Y-%m-%dT%H:%M:%S', at_us / 1000000, 'unixepoch') ||
       printf('.%06dZ', at_us % 1000000) AS at
FROM return_disposition;
CREATE VIEW reworks AS
SELECT seq, serial, return_case AS number, after_run, what, place, note, by,
       strftime('%Y-%m-%dT%H:%M:%S', done_us / 1000000, 'unixepoch') ||
       printf('.%06dZ', done_us % 1000000) AS done,
       strftime('%Y-%m-%dT%H:%M:%S', at_us / 1000000, 'unixepoch') ||
       printf('.%06dZ', at_us % 1000000) AS at
FROM rework;
CREATE INDEX lot_change_jig ON lot_change (jig, product, simulated, seq);
CREATE INDEX baseline_subject ON baseline (subject, simulated, seq);
CREATE TRIGGER lot_change_no_update BEFORE UPDATE ON lot_change
BEGIN SELECT RAISE(ABORT, 'padjig: lot_change is append-only'); END;
CREATE TRIGGER lot_change_no_delete BEFORE DELETE ON lot_change
BEGIN SELECT RAISE(ABORT, 'padjig: lot_change is append-only'); END;
CREATE TRIGGER lot_change_no_replace BEFORE INSERT ON lot_change
WHEN NEW.seq IS NOT (SELECT coalesce(max(seq), 0) + 1 FROM lot_change)
BEGIN SELECT RAISE(ABORT, 'padjig: lot_change is append-only'); END;
CREATE TRIGGER shift_no_update BEFORE UPDATE ON shift
BEGIN SELECT RAISE(ABORT, 'padjig: shift is append-only'); END;
CREATE TRIGGER shift_no_delete BEFORE DELETE ON shift
BEGIN SELECT RAISE(ABORT, 'padjig: shift is append-only'); END;
CREATE TRIGGER shift_no_replace BEFORE INSERT ON shift
WHEN NEW.shift IS NOT (SELECT coalesce(max(shift), 0) + 1 FROM shift)
  OR EXISTS (SELECT 1 FROM shift WHERE plan = NEW.plan AND name = NEW.name)
BEGIN SELECT RAISE(ABORT, 'padjig: shift is append-only'); END;
CREATE TRIGGER baseline_no_update BEFORE UPDATE ON baseline
BEGIN SELECT RAISE(ABORT, 'padjig: baseline is append-only'); END;
CREATE TRIGGER baseline_no_delete BEFORE DELETE ON baseline
BEGIN SELECT RAISE(ABORT, 'padjig: baseline is append-only'); END;
CREATE TRIGGER baseline_no_replace BEFORE INSERT ON baseline
WHEN NEW.seq IS NOT (SELECT coalesce(max(seq), 0) + 1 FROM baseline)
BEGIN SELECT RAISE(ABORT, 'padjig: baseline is append-only'); END;
CREATE TRIGGER fault_no_update BEFORE UPDATE ON fault
BEGIN SELECT RAISE(ABORT, 'padjig: fault is append-only'); END;
CREATE TRIGGER fault_no_delete BEFORE DELETE ON fault
BEGIN SELECT RAISE(ABORT, 'padjig: fault is append-only'); END;
CREATE TRIGGER fault_no_replace BEFORE INSERT ON fault
WHEN EXISTS (SELECT 1 FROM fault WHERE fault = NEW.fault)
  OR EXISTS (SELECT 1 FROM fault WHERE what = NEW.what AND location = NEW.location AND key = NEW.key
               AND lines = NEW.lines AND pins = NEW.pins)
BEGIN SELECT RAISE(ABORT, 'padjig: fault is append-only'); END;
CREATE VIEW lot_changes AS
SELECT seq, jig, product, simulated, membrane, dome, board, consumables, after_run, by,
       strftime('%Y-%m-%dT%H:%M:%S', at_us / 1000000, 'unixepoch') ||
       printf('.%06dZ', at_us % 1000000) AS at
FROM lot_change;
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
CREATE INDEX account_event_secret ON account_event (secret) WHERE kind = 'badge';
CREATE INDEX release_code ON release (code, seq);
CREATE TRIGGER account_event_no_update BEFORE UPDATE ON account_event
BEGIN SELECT RAISE(ABORT, 'padjig: account_event is append-only'); END;
CREATE TRIGGER account_event_no_delete BEFORE DELETE ON account_event
BEGIN SELECT RAISE(ABORT, 'padjig: account_event is append-only'); END;
CREATE TRIGGER account_event_no_replace BEFORE INSERT ON account_event
WHEN NEW.seq IS NOT (SELECT coalesce(max(seq), 0) + 1 FROM account_event)
BEGIN SELECT RAISE(ABORT, 'padjig: account_event is append-only'); END;
CREATE TRIGGER session_no_update BEFORE UPDATE ON session
BEGIN SELECT RAISE(ABORT, 'padjig: session is append-only'); END;
CREATE TRIGGER session_no_delete BEFORE DELETE ON session
BEGIN SELECT RAISE(ABORT, 'padjig: session is append-only'); END;
CREATE TRIGGER session_no_replace BEFORE INSERT ON session
WHEN NEW.seq IS NOT (SELECT coalesce(max(seq), 0) + 1 FROM session)
  OR EXISTS (SELECT 1 FROM session WHERE hash = NEW.hash)
BEGIN SELECT RAISE(ABORT, 'padjig: session is append-only'); END;
CREATE TRIGGER session_end_no_update BEFORE UPDATE ON session_end
BEGIN SELECT RAISE(ABORT, 'padjig: session_end is append-only'); END;
CREATE TRIGGER session_end_no_delete BEFORE DELETE ON session_end
BEGIN SELECT RAISE(ABORT, 'padjig: session_end is append-only'); END;
CREATE TRIGGER session_end_no_replace BEFORE INSERT ON session_end
WHEN EXISTS (SELECT 1 FROM session_end WHERE session = NEW.session)
BEGIN SELECT RAISE(ABORT, 'padjig: session_end is append-only'); END;
CREATE TRIGGER override_no_update BEFORE UPDATE ON override
BEGIN SELECT RAISE(ABORT, 'padjig: override is append-only'); END;
CREATE TRIGGER override_no_delete BEFORE DELETE ON override
BEGIN SELECT RAISE(ABORT, 'padjig: override is append-only'); END;
CREATE TRIGGER override_no_replace BEFORE INSERT ON override
WHEN NEW.seq IS NOT (SELECT coalesce(max(seq), 0) + 1 FROM override)
BEGIN SELECT RAISE(ABORT, 'padjig: override is append-only'); END;
CREATE TRIGGER release_no_update BEFORE UPDATE ON release
BEGIN SELECT RAISE(ABORT, 'padjig: release is append-only'); END;
CREATE TRIGGER release_no_delete BEFORE DELETE ON release
BEGIN SELECT RAISE(ABORT, 'padjig: release is append-only'); END;
CREATE TRIGGER release_no_replace BEFORE INSERT ON release
WHEN NEW.seq IS NOT (SELECT coalesce(max(seq), 0) + 1 FROM release)
BEGIN SELECT RAISE(ABORT, 'padjig: release is append-only'); END;
CREATE TRIGGER gauge_study_no_update BEFORE UPDATE ON gauge_study
BEGIN SELECT RAISE(ABORT, 'padjig: gauge_study is append-only'); END;
CREATE TRIGGER gauge_study_no_delete BEFORE DELETE ON gauge_study
BEGIN SELECT RAISE(ABORT, 'padjig: gauge_study is append-only'); END;
CREATE TRIGGER gauge_study_no_replace BEFORE INSERT ON gauge_study
WHEN NEW.seq IS NOT (SELECT coalesce(max(seq), 0) + 1 FROM gauge_study)
BEGIN SELECT RAISE(ABORT, 'padjig: gauge_study is append-only'); END;
CREATE TRIGGER gauge_reading_no_update BEFORE UPDATE ON gauge_reading
BEGIN SELECT RAISE(ABORT, 'padjig: gauge_reading is append-only'); END;
CREATE TRIGGER gauge_reading_no_delete BEFORE DELETE ON gauge_reading
BEGIN SELECT RAISE(ABORT, 'padjig: gauge_reading is append-only'); END;
CREATE TRIGGER gauge_reading_no_replace BEFORE INSERT ON gauge_reading
WHEN NEW.seq IS NOT (SELECT coalesce(max(seq), 0) + 1 FROM gauge_reading)
  OR EXISTS (SELECT 1 FROM gauge_reading WHERE run = NEW.run OR (study = NEW.study AND place = NEW.place))
BEGIN SELECT RAISE(ABORT, 'padjig: gauge_reading is append-only'); END;
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
CREATE TRIGGER gauge_reading_one_kind BEFORE INSERT ON gauge_reading
WHEN EXISTS
  (SELECT 1 FROM gauge_reading JOIN run ON run.seq = gauge_reading.run
   WHERE study = NEW.study AND simulated <> (SELECT simulated FROM run WHERE seq = NEW.run))
BEGIN SELECT RAISE(ABORT, 'padjig: a gauge study holds simulated readings or real ones, not both'); END;
CREATE VIEW gauge_studies AS
SELECT gauge_study.seq AS number, code AS product, label AS revision, across, parts, appraisers, repeats,
       json_array_length(plan) AS planned,
       (SELECT count(*) FROM gauge_reading WHERE study = gauge_study.seq) AS measured,
       seed, note, by, strftime('%Y-%m-%dT%H:%M:%S', at_us / 1000000, 'unixepoch') ||
       printf('.%06dZ', at_us % 1000000) AS at
FROM gauge_study JOIN revision USING (revision);
CREATE VIEW gauge_readings AS
SELECT gauge_reading.seq, study AS number, place, run.serial AS part,
       iif(across = 'jig', jig.serial, run.operator) AS appraiser,
       plan ->> ('$[' || place || '][2]') + 1 AS repeat, run.seq AS run_seq, outcome, simulated
FROM gauge_reading JOIN gauge_study ON gauge_study.seq = study JOIN run ON run.seq = gauge_reading.run JOIN jig USING (jig);
CREATE INDEX handover_shift ON handover (day, shift);
CREATE TRIGGER handover_no_update BEFORE UPDATE ON handover
BEGIN SELECT RAISE(ABORT, 'padjig: handover is append-only'); END;
CREATE TRIGGER handover_no_delete BEFORE DELETE ON handover
BEGIN SELECT RAISE(ABORT, 'padjig: handover is append-only'); END;
CREATE TRIGGER handover_no_replace BEFORE INSERT ON handover
WHEN NEW.seq IS NOT (SELECT coalesce(max(seq), 0) + 1 FROM handover)
BEGIN SELECT RAISE(ABORT, 'padjig: handover is append-only'); END;
COMMIT;
