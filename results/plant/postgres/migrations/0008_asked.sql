-- Migration 8: what stations went by when they began runs, see migration 38 of a station's records.

CREATE TABLE asked (
  seq bigint NOT NULL,
  start bigint NOT NULL,
  answer text COLLATE "C" NOT NULL,
  attempts bigint NOT NULL,
  took_us bigint NOT NULL,
  hash bytea NOT NULL,
  member smallint NOT NULL,
  local bigint NOT NULL,
  PRIMARY KEY (seq),
  UNIQUE (member, local),
  CONSTRAINT member_of_number CHECK (member = seq & 4095)
);
CREATE INDEX asked_start ON asked (start);
CALL guard_records('asked', 'seq');
