-- Migration 1: the records of many stations in one database.
--
-- A table here has the name and the columns of the station's table whose rows it takes
-- (docs/records.md), so that one text of a question asks both. What differs:
--
--  * A row that a station numbered keeps that number in local, with the number of the station
--    in member. Its number here is its own: local * 4096 + member.
--  * A run is numbered by time instead: milliseconds since 2020-01-01 UTC at which it was stored, by the
--    plant's clock, * 4096 + member; a millisecond later than the run before of the same station where it would not be later.
--    So the order of the runs of a station is that of the station, the order over stations is that of
--    time, and a month of runs is a range of numbers. Both numbers stay below 2^53.
--  * What names a row of another table names it by its number here.
--  * Words that repeat (revision, key, pin, step, jig, station, line_split, fault) are numbered once for all stations.
--  * Aggregates say which station they are of.
--  * What is of one station's door and drafts is not here: accounts, sessions, sign-ins, tokens, drafts.
--
-- Texts sort by their bytes, as on a station.

CREATE TABLE member (
  member  smallint PRIMARY KEY CHECK (member BETWEEN 1 AND 4095),
  name    text COLLATE "C" NOT NULL UNIQUE CHECK (name <> ''),
  since_us bigint NOT NULL
);

-- How far the records of a station came, table by table: every row up to local is here.
CREATE TABLE forwarded (
  member smallint NOT NULL REFERENCES member,
  source text COLLATE "C" NOT NULL,        -- name of the table
  local  bigint NOT NULL,
  PRIMARY KEY (member, source)
);

CREATE TABLE revision (
  revision bigint GENERATED ALWAYS AS IDENTITY,
  hash text COLLATE "C" NOT NULL,
  code text COLLATE "C" NOT NULL,
  title text COLLATE "C" NOT NULL,
  label text COLLATE "C" NOT NULL,
  definition text COLLATE "C" NOT NULL,
  UNIQUE (hash, code, title, label),
  PRIMARY KEY (revision)
);

CREATE TABLE key (
  key bigint GENERATED ALWAYS AS IDENTITY,
  revision bigint NOT NULL,
  label text COLLATE "C" NOT NULL,
  line_a text COLLATE "C" NOT NULL,
  line_b text COLLATE "C" NOT NULL,
  UNIQUE (revision, label, line_a, line_b),
  PRIMARY KEY (key)
);

CREATE TABLE pin (
  pin bigint GENERATED ALWAYS AS IDENTITY,
  revision bigint NOT NULL,
  number bigint NOT NULL,
  line text COLLATE "C" NOT NULL,
  UNIQUE (revision, number, line),
  PRIMARY KEY (pin)
);

CREATE TABLE step (
  step bigint GENERATED ALWAYS AS IDENTITY,
  name text COLLATE "C" NOT NULL,
  UNIQUE (name),
  PRIMARY KEY (step)
);

CREATE TABLE jig (
  jig bigint GENERATED ALWAYS AS IDENTITY,
  serial text COLLATE "C" NOT NULL,
  model text COLLATE "C" NOT NULL,
  firmware text COLLATE "C" NOT NULL,
  adapter text COLLATE "C" NOT NULL,
  UNIQUE (serial, model, firmware, adapter),
  PRIMARY KEY (jig)
);

CREATE TABLE station (
  station bigint GENERATED ALWAYS AS IDENTITY,
  host text COLLATE "C" NOT NULL,
  software text COLLATE "C" NOT NULL,
  boot_id text COLLATE "C" NOT NULL,
  UNIQUE (host, software, boot_id),
  PRIMARY KEY (station)
);

CREATE TABLE run (
  seq bigint NOT NULL,
  id bytea NOT NULL,
  serial text COLLATE "C" NOT NULL,
  revision bigint NOT NULL,
  jig bigint NOT NULL,
  station bigint NOT NULL,
  simulated bigint NOT NULL,
  actuation text COLLATE "C" NOT NULL,
  operator text COLLATE "C" NOT NULL,
  attempt bigint NOT NULL,
  started_us bigint NOT NULL,
  duration_us bigint NOT NULL,
  outcome text COLLATE "C" NOT NULL,
  reason text COLLATE "C" NOT NULL,
  saved_us bigint NOT NULL,
  mono_ns bigint,
  clock_synced bigint,
  steps bigint NOT NULL,
  seats bigint NOT NULL,
  keys bigint NOT NULL,
  pairs bigint NOT NULL,
  findings bigint NOT NULL,
  hash bytea NOT NULL,
  purpose text COLLATE "C" NOT NULL,
  return_case bigint,
  exercised bigint NOT NULL,
  start bigint,
  verdict text COLLATE "C" GENERATED ALWAYS AS (CASE WHEN outcome = 'pass' AND actuation = 'electrical' THEN 'harness good' ELSE outcome END) STORED,
  ended text COLLATE "C",
  proofs text COLLATE "C",
  insulation bigint NOT NULL,
  member smallint NOT NULL,
  local bigint NOT NULL,
  PRIMARY KEY (seq)
) PARTITION BY RANGE (seq);

CREATE TABLE run_step (
  run bigint NOT NULL,
  place bigint NOT NULL,
  step bigint NOT NULL,
  done bigint NOT NULL,
  took_us bigint NOT NULL,
  PRIMARY KEY (run, place)
) PARTITION BY RANGE (run);

CREATE TABLE run_seat (
  run bigint NOT NULL,
  place bigint NOT NULL,
  pin bigint NOT NULL,
  good bigint NOT NULL,
  loop_mohm bigint,
  loop_u_mohm bigint,
  loop_at_least bigint NOT NULL,
  loop_rest_uohm bigint,
  loop_u_rest_uohm bigint,
  loop_ohm double precision GENERATED ALWAYS AS ((loop_mohm * 1000 + coalesce(loop_rest_uohm, 0))::double precision / 1e6::double precision) STORED,
  loop_u_ohm double precision GENERATED ALWAYS AS ((loop_u_mohm * 1000 + coalesce(loop_u_rest_uohm, 0))::double precision / 1e6::double precision) STORED,
  PRIMARY KEY (run, place)
) PARTITION BY RANGE (run);

CREATE TABLE run_key (
  run bigint NOT NULL,
  place bigint NOT NULL,
  key bigint NOT NULL,
  passed bigint,
  closed_mohm bigint,
  closed_u_mohm bigint,
  closed_at_least bigint,
  make_us bigint,
  make_count bigint,
  break_us bigint,
  break_count bigint,
  forward_uv bigint,
  forward_u_uv bigint,
  reverse_mohm bigint,
  reverse_u_mohm bigint,
  reverse_at_least bigint,
  closed_rest_uohm bigint,
  closed_u_rest_uohm bigint,
  closed_ohm double precision GENERATED ALWAYS AS ((closed_mohm * 1000 + coalesce(closed_rest_uohm, 0))::double precision / 1e6::double precision) STORED,
  closed_u_ohm double precision GENERATED ALWAYS AS ((closed_u_mohm * 1000 + coalesce(closed_u_rest_uohm, 0))::double precision / 1e6::double precision) STORED,
  two_currents text COLLATE "C",
  PRIMARY KEY (run, place)
) PARTITION BY RANGE (run);

CREATE TABLE run_pair (
  run bigint NOT NULL,
  place bigint NOT NULL,
  line_a text COLLATE "C" NOT NULL,
  line_b text COLLATE "C" NOT NULL,
  held text COLLATE "C" NOT NULL,
  mohm bigint,
  u_mohm bigint,
  at_least bigint NOT NULL,
  forward_mohm bigint,
  forward_u_mohm bigint,
  forward_at_least bigint,
  backward_mohm bigint,
  backward_u_mohm bigint,
  backward_at_least bigint,
  trend text COLLATE "C" NOT NULL,
  PRIMARY KEY (run, place)
) PARTITION BY RANGE (run);

CREATE TABLE run_finding (
  run bigint NOT NULL,
  place bigint NOT NULL,
  what text COLLATE "C" NOT NULL,
  location text COLLATE "C" NOT NULL,
  key text COLLATE "C" NOT NULL,
  lines text COLLATE "C" NOT NULL,
  pins text COLLATE "C" NOT NULL,
  value double precision,
  value_open bigint NOT NULL,
  u double precision,
  "limit" double precision,
  unit text COLLATE "C" NOT NULL,
  site text COLLATE "C",
  how text COLLATE "C",
  PRIMARY KEY (run, place)
) PARTITION BY RANGE (run);

CREATE TABLE calibration (
  seq bigint NOT NULL,
  id bytea NOT NULL,
  kind text COLLATE "C" NOT NULL,
  jig bigint NOT NULL,
  station bigint NOT NULL,
  simulated bigint NOT NULL,
  operator text COLLATE "C" NOT NULL,
  after_run bigint NOT NULL,
  performed_us bigint NOT NULL,
  interval_us bigint NOT NULL,
  due_us bigint NOT NULL,
  box text COLLATE "C" NOT NULL,
  box_serial text COLLATE "C" NOT NULL,
  certificate text COLLATE "C" NOT NULL,
  certificate_due_us bigint,
  good bigint NOT NULL,
  reason text COLLATE "C" NOT NULL,
  saved_us bigint NOT NULL,
  mono_ns bigint,
  clock_synced bigint,
  readings bigint NOT NULL,
  hash bytea NOT NULL,
  self_test text COLLATE "C",
  member smallint NOT NULL,
  local bigint NOT NULL,
  PRIMARY KEY (seq),
  UNIQUE (member, local)
);

CREATE TABLE calibration_reading (
  calibration bigint NOT NULL,
  place bigint NOT NULL,
  channel bigint NOT NULL,
  mate bigint,
  resistor text COLLATE "C" NOT NULL,
  reference_ohm double precision NOT NULL,
  certified_ohm double precision,
  certified_u_ohm double precision,
  ohm double precision NOT NULL,
  u_ohm double precision NOT NULL,
  deviation_ohm double precision NOT NULL,
  deviation_u_ohm double precision NOT NULL,
  limit_ohm double precision NOT NULL,
  good bigint NOT NULL,
  PRIMARY KEY (calibration, place)
);

CREATE TABLE reference_check (
  seq bigint NOT NULL,
  run bigint NOT NULL,
  unit text COLLATE "C" NOT NULL,
  kind text COLLATE "C" NOT NULL,
  good bigint NOT NULL,
  why text COLLATE "C" NOT NULL,
  member smallint NOT NULL,
  local bigint NOT NULL,
  PRIMARY KEY (seq),
  UNIQUE (member, local)
);

CREATE TABLE return_case (
  seq bigint NOT NULL,
  id bytea NOT NULL,
  serial text COLLATE "C" NOT NULL,
  product text COLLATE "C" NOT NULL,
  after_run bigint NOT NULL,
  by text COLLATE "C" NOT NULL,
  at_us bigint NOT NULL,
  hash bytea NOT NULL,
  member smallint NOT NULL,
  local bigint NOT NULL,
  PRIMARY KEY (seq),
  UNIQUE (member, local)
);

CREATE TABLE return_intake (
  seq bigint NOT NULL,
  return_case bigint NOT NULL,
  received_us bigint NOT NULL,
  complaint text COLLATE "C" NOT NULL,
  complaint_text text COLLATE "C" NOT NULL,
  conditions text COLLATE "C" NOT NULL,
  condition_text text COLLATE "C" NOT NULL,
  ends_testing bigint NOT NULL,
  customer text COLLATE "C" NOT NULL,
  lot text COLLATE "C" NOT NULL,
  by text COLLATE "C" NOT NULL,
  at_us bigint NOT NULL,
  hash bytea NOT NULL,
  member smallint NOT NULL,
  local bigint NOT NULL,
  PRIMARY KEY (seq),
  UNIQUE (member, local)
);

CREATE TABLE return_photo (
  seq bigint NOT NULL,
  return_case bigint NOT NULL,
  sha256 bytea NOT NULL,
  bytes bigint NOT NULL,
  content_type text COLLATE "C" NOT NULL,
  name text COLLATE "C" NOT NULL,
  note text COLLATE "C" NOT NULL,
  by text COLLATE "C" NOT NULL,
  at_us bigint NOT NULL,
  hash bytea NOT NULL,
  member smallint NOT NULL,
  local bigint NOT NULL,
  PRIMARY KEY (seq),
  UNIQUE (member, local)
);

CREATE TABLE return_diagnosis (
  seq bigint NOT NULL,
  return_case bigint NOT NULL,
  run bigint NOT NULL,
  causes text COLLATE "C" NOT NULL,
  software text COLLATE "C" NOT NULL,
  at_us bigint NOT NULL,
  hash bytea NOT NULL,
  member smallint NOT NULL,
  local bigint NOT NULL,
  PRIMARY KEY (seq),
  UNIQUE (member, local)
);

CREATE TABLE return_disposition (
  seq bigint NOT NULL,
  return_case bigint NOT NULL,
  disposition text COLLATE "C" NOT NULL,
  reason text COLLATE "C" NOT NULL,
  by text COLLATE "C" NOT NULL,
  at_us bigint NOT NULL,
  hash bytea NOT NULL,
  member smallint NOT NULL,
  local bigint NOT NULL,
  PRIMARY KEY (seq),
  UNIQUE (member, local)
);

CREATE TABLE rework (
  seq bigint NOT NULL,
  serial text COLLATE "C" NOT NULL,
  return_case bigint,
  after_run bigint NOT NULL,
  what text COLLATE "C" NOT NULL,
  place text COLLATE "C" NOT NULL,
  note text COLLATE "C" NOT NULL,
  by text COLLATE "C" NOT NULL,
  done_us bigint NOT NULL,
  at_us bigint NOT NULL,
  hash bytea NOT NULL,
  member smallint NOT NULL,
  local bigint NOT NULL,
  PRIMARY KEY (seq),
  UNIQUE (member, local)
);

CREATE TABLE run_exercise (
  run bigint NOT NULL,
  place bigint NOT NULL,
  key bigint NOT NULL,
  presses bigint NOT NULL,
  misses bigint NOT NULL,
  high bigint NOT NULL,
  sticks bigint NOT NULL,
  first_bad bigint NOT NULL,
  least_mohm bigint,
  least_u_mohm bigint,
  most_mohm bigint,
  most_u_mohm bigint,
  make_us bigint NOT NULL,
  break_us bigint NOT NULL,
  held_us bigint NOT NULL,
  held_opened bigint NOT NULL,
  held_longest_us bigint NOT NULL,
  held_more bigint NOT NULL,
  flexed_us bigint NOT NULL,
  flexed_opened bigint NOT NULL,
  flexed_longest_us bigint NOT NULL,
  flexed_more bigint NOT NULL,
  least_rest_uohm bigint,
  least_u_rest_uohm bigint,
  most_rest_uohm bigint,
  most_u_rest_uohm bigint,
  least_ohm double precision GENERATED ALWAYS AS ((least_mohm * 1000 + coalesce(least_rest_uohm, 0))::double precision / 1e6::double precision) STORED,
  least_u_ohm double precision GENERATED ALWAYS AS ((least_u_mohm * 1000 + coalesce(least_u_rest_uohm, 0))::double precision / 1e6::double precision) STORED,
  most_ohm double precision GENERATED ALWAYS AS ((most_mohm * 1000 + coalesce(most_rest_uohm, 0))::double precision / 1e6::double precision) STORED,
  most_u_ohm double precision GENERATED ALWAYS AS ((most_u_mohm * 1000 + coalesce(most_u_rest_uohm, 0))::double precision / 1e6::double precision) STORED,
  PRIMARY KEY (run, place)
) PARTITION BY RANGE (run);

CREATE TABLE lot_change (
  seq bigint NOT NULL,
  jig text COLLATE "C" NOT NULL,
  product text COLLATE "C" NOT NULL,
  simulated bigint NOT NULL,
  membrane text COLLATE "C" NOT NULL,
  dome text COLLATE "C" NOT NULL,
  board text COLLATE "C" NOT NULL,
  consumables text COLLATE "C" NOT NULL,
  after_run bigint NOT NULL,
  by text COLLATE "C" NOT NULL,
  at_us bigint NOT NULL,
  member smallint NOT NULL,
  local bigint NOT NULL,
  PRIMARY KEY (seq),
  UNIQUE (member, local)
);

CREATE TABLE shift (
  shift bigint NOT NULL,
  plan bigint NOT NULL,
  name text COLLATE "C" NOT NULL,
  begins_min bigint NOT NULL,
  ends_min bigint NOT NULL,
  zone text COLLATE "C" NOT NULL,
  after_run bigint NOT NULL,
  by text COLLATE "C" NOT NULL,
  reason text COLLATE "C" NOT NULL,
  at_us bigint NOT NULL,
  days bigint NOT NULL,
  member smallint NOT NULL,
  local bigint NOT NULL,
  PRIMARY KEY (shift),
  UNIQUE (member, local)
);

CREATE TABLE baseline (
  seq bigint NOT NULL,
  subject text COLLATE "C" NOT NULL,
  selection text COLLATE "C" NOT NULL,
  points bigint NOT NULL,
  limits text COLLATE "C" NOT NULL,
  simulated bigint NOT NULL,
  after_run bigint NOT NULL,
  by text COLLATE "C" NOT NULL,
  reason text COLLATE "C" NOT NULL,
  at_us bigint NOT NULL,
  member smallint NOT NULL,
  local bigint NOT NULL,
  PRIMARY KEY (seq),
  UNIQUE (member, local)
);

CREATE TABLE fault (
  fault bigint GENERATED ALWAYS AS IDENTITY,
  what text COLLATE "C" NOT NULL,
  location text COLLATE "C" NOT NULL,
  key text COLLATE "C" NOT NULL,
  lines text COLLATE "C" NOT NULL,
  pins text COLLATE "C" NOT NULL,
  UNIQUE (what, location, key, lines, pins),
  PRIMARY KEY (fault)
);

CREATE TABLE run_cell (
  run bigint NOT NULL,
  cell bigint NOT NULL,
  turn bigint NOT NULL,
  PRIMARY KEY (run)
) PARTITION BY RANGE (run);

CREATE TABLE override (
  seq bigint NOT NULL,
  what text COLLATE "C" NOT NULL,
  serial text COLLATE "C" NOT NULL,
  jig text COLLATE "C" NOT NULL,
  by text COLLATE "C" NOT NULL,
  reason text COLLATE "C" NOT NULL,
  after_run bigint NOT NULL,
  at_us bigint NOT NULL,
  member smallint NOT NULL,
  local bigint NOT NULL,
  PRIMARY KEY (seq),
  UNIQUE (member, local)
);

CREATE TABLE release (
  seq bigint NOT NULL,
  code text COLLATE "C" NOT NULL,
  label text COLLATE "C" NOT NULL,
  hash text COLLATE "C" NOT NULL,
  kind text COLLATE "C" NOT NULL,
  source text COLLATE "C" NOT NULL,
  by text COLLATE "C" NOT NULL,
  reason text COLLATE "C" NOT NULL,
  after_run bigint NOT NULL,
  at_us bigint NOT NULL,
  proposal bigint,
  member smallint NOT NULL,
  local bigint NOT NULL,
  PRIMARY KEY (seq),
  UNIQUE (member, local)
);

CREATE TABLE gauge_study (
  seq bigint NOT NULL,
  revision bigint NOT NULL,
  across text COLLATE "C" NOT NULL,
  parts text COLLATE "C" NOT NULL,
  appraisers text COLLATE "C" NOT NULL,
  repeats bigint NOT NULL,
  plan text COLLATE "C" NOT NULL,
  seed bigint NOT NULL,
  note text COLLATE "C" NOT NULL,
  by text COLLATE "C" NOT NULL,
  at_us bigint NOT NULL,
  hash bytea NOT NULL,
  member smallint NOT NULL,
  local bigint NOT NULL,
  PRIMARY KEY (seq),
  UNIQUE (member, local)
);

CREATE TABLE gauge_reading (
  seq bigint NOT NULL,
  study bigint NOT NULL,
  place bigint NOT NULL,
  run bigint NOT NULL,
  hash bytea NOT NULL,
  member smallint NOT NULL,
  local bigint NOT NULL,
  PRIMARY KEY (seq),
  UNIQUE (member, local)
);

CREATE TABLE handover (
  seq bigint NOT NULL,
  shift text COLLATE "C" NOT NULL,
  day text COLLATE "C" NOT NULL,
  simulated bigint NOT NULL,
  after_run bigint NOT NULL,
  by text COLLATE "C" NOT NULL,
  note text COLLATE "C" NOT NULL,
  at_us bigint NOT NULL,
  member smallint NOT NULL,
  local bigint NOT NULL,
  PRIMARY KEY (seq),
  UNIQUE (member, local)
);

CREATE TABLE run_start (
  seq bigint NOT NULL,
  id bytea NOT NULL,
  serial text COLLATE "C" NOT NULL,
  revision bigint NOT NULL,
  jig bigint NOT NULL,
  station bigint NOT NULL,
  simulated bigint NOT NULL,
  actuation text COLLATE "C" NOT NULL,
  operator text COLLATE "C" NOT NULL,
  purpose text COLLATE "C" NOT NULL,
  return_case bigint,
  attempt bigint NOT NULL,
  after_run bigint NOT NULL,
  started_us bigint NOT NULL,
  hash bytea NOT NULL,
  member smallint NOT NULL,
  local bigint NOT NULL,
  PRIMARY KEY (seq),
  UNIQUE (member, local)
);

CREATE TABLE run_unfinished (
  seq bigint NOT NULL,
  start bigint NOT NULL,
  at_us bigint NOT NULL,
  hash bytea NOT NULL,
  member smallint NOT NULL,
  local bigint NOT NULL,
  PRIMARY KEY (seq),
  UNIQUE (member, local)
);

CREATE TABLE nest_count (
  seq bigint NOT NULL,
  start bigint NOT NULL,
  moment text COLLATE "C" NOT NULL,
  boot bigint NOT NULL,
  openings bigint NOT NULL,
  hash bytea NOT NULL,
  member smallint NOT NULL,
  local bigint NOT NULL,
  PRIMARY KEY (seq),
  UNIQUE (member, local)
);

CREATE TABLE nest_empty (
  seq bigint NOT NULL,
  jig text COLLATE "C" NOT NULL,
  simulated bigint NOT NULL,
  after_start bigint NOT NULL,
  at_us bigint NOT NULL,
  hash bytea NOT NULL,
  member smallint NOT NULL,
  local bigint NOT NULL,
  PRIMARY KEY (seq),
  UNIQUE (member, local)
);

CREATE TABLE line_split (
  line_split bigint GENERATED ALWAYS AS IDENTITY,
  fed text COLLATE "C" NOT NULL,
  grounded text COLLATE "C" NOT NULL,
  UNIQUE (fed, grounded),
  PRIMARY KEY (line_split)
);

CREATE TABLE run_insulation (
  run bigint NOT NULL,
  place bigint NOT NULL,
  step bigint NOT NULL,
  line_split bigint NOT NULL,
  mohm bigint,
  u_mohm bigint,
  at_least bigint NOT NULL,
  PRIMARY KEY (run, place)
) PARTITION BY RANGE (run);

CREATE TABLE release_proposal (
  seq bigint NOT NULL,
  code text COLLATE "C" NOT NULL,
  label text COLLATE "C" NOT NULL,
  revision text COLLATE "C" NOT NULL,
  kind text COLLATE "C" NOT NULL,
  source text COLLATE "C" NOT NULL,
  by text COLLATE "C" NOT NULL,
  reason text COLLATE "C" NOT NULL,
  from_serial text COLLATE "C" NOT NULL,
  base bigint NOT NULL,
  against text COLLATE "C" NOT NULL,
  loosens bigint NOT NULL,
  changes text COLLATE "C" NOT NULL,
  trial text COLLATE "C" NOT NULL,
  after_run bigint NOT NULL,
  after_account bigint NOT NULL,
  at_us bigint NOT NULL,
  hash bytea NOT NULL,
  member smallint NOT NULL,
  local bigint NOT NULL,
  PRIMARY KEY (seq),
  UNIQUE (member, local)
);

CREATE TABLE release_approval (
  seq bigint NOT NULL,
  proposal bigint NOT NULL,
  revision text COLLATE "C" NOT NULL,
  by text COLLATE "C" NOT NULL,
  at_us bigint NOT NULL,
  hash bytea NOT NULL,
  member smallint NOT NULL,
  local bigint NOT NULL,
  PRIMARY KEY (seq),
  UNIQUE (member, local)
);

CREATE TABLE wear_event (
  seq bigint NOT NULL,
  jig text COLLATE "C" NOT NULL,
  simulated bigint,
  part text COLLATE "C" NOT NULL,
  kind text COLLATE "C" NOT NULL,
  name text COLLATE "C" NOT NULL,
  lot text COLLATE "C" NOT NULL,
  tip text COLLATE "C" NOT NULL,
  serves text COLLATE "C" NOT NULL,
  after_run bigint NOT NULL,
  warn bigint,
  block bigint,
  by text COLLATE "C" NOT NULL,
  note text COLLATE "C" NOT NULL,
  at_us bigint NOT NULL,
  member smallint NOT NULL,
  local bigint NOT NULL,
  PRIMARY KEY (seq),
  UNIQUE (member, local)
);

CREATE TABLE shipment (
  seq bigint NOT NULL,
  serial text COLLATE "C" NOT NULL,
  simulated bigint NOT NULL,
  kind text COLLATE "C" NOT NULL,
  consignee text COLLATE "C" NOT NULL,
  although text COLLATE "C" NOT NULL,
  after_run bigint NOT NULL,
  by text COLLATE "C" NOT NULL,
  note text COLLATE "C" NOT NULL,
  at_us bigint NOT NULL,
  member smallint NOT NULL,
  local bigint NOT NULL,
  PRIMARY KEY (seq),
  UNIQUE (member, local)
);

CREATE TABLE return_no_photo (
  seq bigint NOT NULL,
  return_case bigint NOT NULL,
  reason text COLLATE "C" NOT NULL,
  by text COLLATE "C" NOT NULL,
  at_us bigint NOT NULL,
  hash bytea NOT NULL,
  member smallint NOT NULL,
  local bigint NOT NULL,
  PRIMARY KEY (seq),
  UNIQUE (member, local)
);

CREATE TABLE return_unlock (
  seq bigint NOT NULL,
  return_case bigint NOT NULL,
  intake bigint NOT NULL,
  override bigint NOT NULL,
  hash bytea NOT NULL,
  member smallint NOT NULL,
  local bigint NOT NULL,
  PRIMARY KEY (seq),
  UNIQUE (member, local)
);

CREATE TABLE return_disposal (
  seq bigint NOT NULL,
  disposition bigint NOT NULL,
  disposal text COLLATE "C" NOT NULL,
  after_run bigint NOT NULL,
  contradictions text COLLATE "C" NOT NULL,
  hash bytea NOT NULL,
  member smallint NOT NULL,
  local bigint NOT NULL,
  PRIMARY KEY (seq),
  UNIQUE (member, local)
);

CREATE TABLE rework_deed (
  seq bigint NOT NULL,
  rework bigint NOT NULL,
  deed text COLLATE "C" NOT NULL,
  kind text COLLATE "C" NOT NULL,
  place text COLLATE "C" NOT NULL,
  part text COLLATE "C" NOT NULL,
  lot text COLLATE "C" NOT NULL,
  hash bytea NOT NULL,
  member smallint NOT NULL,
  local bigint NOT NULL,
  PRIMARY KEY (seq),
  UNIQUE (member, local)
);

CREATE TABLE stop (
  seq bigint NOT NULL,
  jig text COLLATE "C" NOT NULL,
  product text COLLATE "C" NOT NULL,
  simulated bigint NOT NULL,
  rule text COLLATE "C" NOT NULL,
  unit text COLLATE "C" NOT NULL,
  finding text COLLATE "C" NOT NULL,
  key text COLLATE "C" NOT NULL,
  lines text COLLATE "C" NOT NULL,
  pins text COLLATE "C" NOT NULL,
  units bigint NOT NULL,
  of bigint NOT NULL,
  run bigint NOT NULL,
  after_run bigint NOT NULL,
  boot_id text COLLATE "C" NOT NULL,
  mono_ns bigint,
  at_us bigint NOT NULL,
  hash bytea NOT NULL,
  member smallint NOT NULL,
  local bigint NOT NULL,
  PRIMARY KEY (seq),
  UNIQUE (member, local)
);

CREATE TABLE stop_lifting (
  seq bigint NOT NULL,
  stop bigint NOT NULL,
  reason text COLLATE "C" NOT NULL,
  note text COLLATE "C" NOT NULL,
  by text COLLATE "C" NOT NULL,
  after_run bigint NOT NULL,
  took_us bigint NOT NULL,
  at_us bigint NOT NULL,
  hash bytea NOT NULL,
  member smallint NOT NULL,
  local bigint NOT NULL,
  PRIMARY KEY (seq),
  UNIQUE (member, local)
);

CREATE TABLE stop_beginning (
  seq bigint NOT NULL,
  after_run bigint NOT NULL,
  member smallint NOT NULL,
  local bigint NOT NULL,
  PRIMARY KEY (seq),
  UNIQUE (member, local)
);

CREATE TABLE fail_place (
  seq bigint NOT NULL,
  name text COLLATE "C" NOT NULL,
  by text COLLATE "C" NOT NULL,
  at_us bigint NOT NULL,
  hash bytea NOT NULL,
  member smallint NOT NULL,
  local bigint NOT NULL,
  PRIMARY KEY (seq),
  UNIQUE (member, local)
);

CREATE TABLE placement (
  seq bigint NOT NULL,
  run bigint NOT NULL,
  how text COLLATE "C" NOT NULL,
  place bigint,
  by text COLLATE "C" NOT NULL,
  reason text COLLATE "C" NOT NULL,
  after_run bigint NOT NULL,
  at_us bigint NOT NULL,
  hash bytea NOT NULL,
  member smallint NOT NULL,
  local bigint NOT NULL,
  PRIMARY KEY (seq),
  UNIQUE (member, local)
);

CREATE TABLE fails_owe (
  seq bigint NOT NULL,
  after_run bigint NOT NULL,
  member smallint NOT NULL,
  local bigint NOT NULL,
  PRIMARY KEY (seq),
  UNIQUE (member, local)
);

CREATE TABLE product_change (
  seq bigint NOT NULL,
  jig text COLLATE "C" NOT NULL,
  simulated bigint NOT NULL,
  before text COLLATE "C" NOT NULL,
  product text COLLATE "C" NOT NULL,
  given text COLLATE "C" NOT NULL,
  after_run bigint NOT NULL,
  by text COLLATE "C" NOT NULL,
  at_us bigint NOT NULL,
  hash bytea NOT NULL,
  member smallint NOT NULL,
  local bigint NOT NULL,
  PRIMARY KEY (seq),
  UNIQUE (member, local)
);

CREATE TABLE plant_zone (
  seq bigint NOT NULL,
  zone text COLLATE "C" NOT NULL,
  host text COLLATE "C" NOT NULL,
  at_us bigint NOT NULL,
  hash bytea NOT NULL,
  member smallint NOT NULL,
  local bigint NOT NULL,
  PRIMARY KEY (seq),
  UNIQUE (member, local)
);

CREATE TABLE release_withdrawal (
  seq bigint NOT NULL,
  proposal bigint NOT NULL,
  by text COLLATE "C" NOT NULL,
  reason text COLLATE "C" NOT NULL,
  at_us bigint NOT NULL,
  hash bytea NOT NULL,
  member smallint NOT NULL,
  local bigint NOT NULL,
  PRIMARY KEY (seq),
  UNIQUE (member, local)
);

CREATE TABLE commissioning (
  seq bigint NOT NULL,
  id bytea NOT NULL,
  jig text COLLATE "C" NOT NULL,
  model text COLLATE "C" NOT NULL,
  firmware text COLLATE "C" NOT NULL,
  simulated bigint NOT NULL,
  states text COLLATE "C" NOT NULL,
  software text COLLATE "C" NOT NULL,
  host text COLLATE "C" NOT NULL,
  boot_id text COLLATE "C" NOT NULL,
  after_run bigint NOT NULL,
  by text COLLATE "C" NOT NULL,
  at_us bigint NOT NULL,
  hash bytea NOT NULL,
  member smallint NOT NULL,
  local bigint NOT NULL,
  PRIMARY KEY (seq),
  UNIQUE (member, local)
);

CREATE TABLE commissioning_step (
  seq bigint NOT NULL,
  commissioning bigint NOT NULL,
  step text COLLATE "C" NOT NULL,
  outcome text COLLATE "C" NOT NULL,
  why text COLLATE "C" NOT NULL,
  figures text COLLATE "C" NOT NULL,
  by text COLLATE "C" NOT NULL,
  at_us bigint NOT NULL,
  hash bytea NOT NULL,
  member smallint NOT NULL,
  local bigint NOT NULL,
  PRIMARY KEY (seq),
  UNIQUE (member, local)
);

CREATE TABLE program (
  seq bigint NOT NULL,
  version text COLLATE "C" NOT NULL,
  commit_hash text COLLATE "C" NOT NULL,
  modified bigint NOT NULL,
  go text COLLATE "C" NOT NULL,
  platform text COLLATE "C" NOT NULL,
  sqlite text COLLATE "C" NOT NULL,
  host text COLLATE "C" NOT NULL,
  after_run bigint NOT NULL,
  at_us bigint NOT NULL,
  hash bytea NOT NULL,
  member smallint NOT NULL,
  local bigint NOT NULL,
  PRIMARY KEY (seq),
  UNIQUE (member, local)
);

-- Aggregates, counted here by the rule of the station over the runs of all stations.
CREATE TABLE cell (
  cell bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
  member smallint NOT NULL REFERENCES member,
  hour bigint NOT NULL,
  shift bigint NOT NULL,
  revision bigint NOT NULL,
  jig bigint NOT NULL,
  lots bigint NOT NULL,
  operator text COLLATE "C" NOT NULL,
  actuation text COLLATE "C" NOT NULL,
  simulated bigint NOT NULL,
  purpose text COLLATE "C" NOT NULL,
  first_run bigint NOT NULL DEFAULT 0,
  last_run bigint NOT NULL DEFAULT 0,
  runs bigint NOT NULL DEFAULT 0,
  reseat bigint NOT NULL DEFAULT 0,
  incomplete bigint NOT NULL DEFAULT 0,
  aborted bigint NOT NULL DEFAULT 0,
  units bigint NOT NULL DEFAULT 0,
  first_passed bigint NOT NULL DEFAULT 0,
  last_passed bigint NOT NULL DEFAULT 0,
  retests bigint NOT NULL DEFAULT 0,
  cures bigint NOT NULL DEFAULT 0,
  relapses bigint NOT NULL DEFAULT 0,
  UNIQUE (hour, shift, revision, jig, lots, operator, actuation, simulated, purpose, member)
);

CREATE TABLE cell_reading (
  cell bigint PRIMARY KEY REFERENCES cell,
  packed bytea NOT NULL
);

CREATE TABLE cell_finding (
  cell bigint NOT NULL REFERENCES cell,
  fault bigint NOT NULL,
  units bigint NOT NULL,
  worst bigint NOT NULL,
  runs bigint NOT NULL,
  PRIMARY KEY (cell, fault)
);

CREATE INDEX run_serial ON run (serial);
CREATE INDEX run_local ON run (member, local);
CREATE INDEX run_jig ON run (jig, actuation);
CREATE INDEX run_of_start ON run (start) WHERE start IS NOT NULL;
CREATE INDEX run_cell_cell ON run_cell (cell);
CREATE INDEX calibration_jig ON calibration (jig, kind);
CREATE INDEX reference_check_unit ON reference_check (unit, seq);
CREATE INDEX return_case_serial ON return_case (serial);
CREATE INDEX rework_serial ON rework (serial);
CREATE INDEX lot_change_jig ON lot_change (jig, product, simulated, seq);
CREATE INDEX run_start_serial ON run_start (serial);
CREATE INDEX shipment_serial ON shipment (serial);

-- month_of makes room for the runs of the month that a number lies in. Whoever forwards may call it without
-- owning the tables.
CREATE FUNCTION month_of(run_number bigint) RETURNS void
LANGUAGE plpgsql SECURITY DEFINER SET search_path FROM CURRENT AS $$
DECLARE
  zero CONSTANT timestamptz := '2020-01-01 00:00:00+00';
  begins timestamptz := date_trunc('month', zero + (run_number / 4096) * interval '1 millisecond', 'UTC');
  low bigint := (extract(epoch FROM begins - zero) * 1000)::bigint * 4096;
  high bigint := (extract(epoch FROM (begins AT TIME ZONE 'UTC' + interval '1 month') AT TIME ZONE 'UTC' - zero) * 1000)::bigint * 4096;
  suffix text := to_char(begins AT TIME ZONE 'UTC', '_YYYY_MM');
  parent text;
BEGIN
  PERFORM pg_advisory_xact_lock(hashtext('padjig month'));
  FOREACH parent IN ARRAY ARRAY['run', 'run_step', 'run_seat', 'run_key', 'run_pair', 'run_finding', 'run_exercise', 'run_insulation', 'run_cell'] LOOP
    IF to_regclass(parent || suffix) IS NULL THEN
      EXECUTE format('CREATE TABLE %I PARTITION OF %I FOR VALUES FROM (%s) TO (%s)', parent || suffix, parent, low, high);
    END IF;
  END LOOP;
END $$;
