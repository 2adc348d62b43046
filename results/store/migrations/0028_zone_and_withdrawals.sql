-- Migration 28: the time zone of a plant that has no shifts yet; proposals that were
-- withdrawn.

CREATE TABLE plant_zone (
  seq   INTEGER PRIMARY KEY,          -- 1, 2, 3 ... without a gap
  zone  TEXT    NOT NULL CHECK (zone <> ''),            -- such as Europe/Vienna
  host  TEXT    NOT NULL,             -- of the station that was started with it
  at_us INTEGER NOT NULL,
  hash  BLOB    NOT NULL CHECK (length(hash) = 32)
) STRICT;

CREATE TRIGGER plant_zone_no_update BEFORE UPDATE ON plant_zone
BEGIN SELECT RAISE(ABORT, 'padjig: plant_zone is append-only'); END;
CREATE TRIGGER plant_zone_no_delete BEFORE DELETE ON plant_zone
BEGIN SELECT RAISE(ABORT, 'padjig: plant_zone is append-only'); END;
CREATE TRIGGER plant_zone_no_replace BEFORE INSERT ON plant_zone
WHEN NEW.seq IS NOT (SELECT coalesce(max(seq), 0) + 1 FROM plant_zone)
BEGIN SELECT RAISE(ABORT, 'padjig: plant_zone is append-only'); END;

CREATE TABLE release_withdrawal (
  seq      INTEGER PRIMARY KEY,       -- 1, 2, 3 ... without a gap
  proposal INTEGER NOT NULL UNIQUE REFERENCES release_proposal,
  by       TEXT    NOT NULL CHECK (trim(by) <> ''),
  reason   TEXT    NOT NULL CHECK (length(trim(reason)) >= 8),
  at_us    INTEGER NOT NULL,
  hash     BLOB    NOT NULL CHECK (length(hash) = 32)
) STRICT;

CREATE TRIGGER release_withdrawal_no_update BEFORE UPDATE ON release_withdrawal
BEGIN SELECT RAISE(ABORT, 'padjig: release_withdrawal is append-only'); END;
CREATE TRIGGER release_withdrawal_no_delete BEFORE DELETE ON release_withdrawal
BEGIN SELECT RAISE(ABORT, 'padjig: release_withdrawal is append-only'); END;
CREATE TRIGGER release_withdrawal_no_replace BEFORE INSERT ON release_withdrawal
WHEN NEW.seq IS NOT (SELECT coalesce(max(seq), 0) + 1 FROM release_withdrawal)
  OR EXISTS (SELECT 1 FROM release_withdrawal WHERE proposal = NEW.proposal)
BEGIN SELECT RAISE(ABORT, 'padjig: release_withdrawal is append-only'); END;

-- An engineer withdraws, and only what waits; what was withdrawn cannot be approved.
CREATE TRIGGER release_withdrawal_engineer BEFORE INSERT ON release_withdrawal
WHEN NEW.seq = (SELECT coalesce(max(seq), 0) + 1 FROM release_withdrawal) AND
     ((SELECT role FROM account_event WHERE name = NEW.by AND kind IN ('role', 'closed') ORDER BY seq DESC LIMIT 1) IS NOT 'engineer'
   OR (SELECT kind FROM account_lock WHERE name = NEW.by ORDER BY seq DESC LIMIT 1) IS 'locked')
BEGIN SELECT RAISE(ABORT, 'padjig: an engineer withdraws a proposal'); END;
CREATE TRIGGER release_withdrawal_in_time BEFORE INSERT ON release_withdrawal
WHEN NEW.seq = (SELECT coalesce(max(seq), 0) + 1 FROM release_withdrawal) AND
     (EXISTS (SELECT 1 FROM release_approval WHERE proposal = NEW.proposal)
   OR EXISTS (SELECT 1 FROM release WHERE proposal = NEW.proposal)
   OR NOT EXISTS (SELECT 1 FROM release_proposal WHERE seq = NEW.proposal AND loosens = 1))
BEGIN SELECT RAISE(ABORT, 'padjig: the proposal does not wait for approval'); END;
CREATE TRIGGER release_approval_withdrawn BEFORE INSERT ON release_approval
WHEN NEW.seq = (SELECT coalesce(max(seq), 0) + 1 FROM release_approval)
 AND EXISTS (SELECT 1 FROM release_withdrawal WHERE proposal = NEW.proposal)
BEGIN SELECT RAISE(ABORT, 'padjig: the proposal was withdrawn'); END;
