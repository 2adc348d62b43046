-- Migration 16: what failed, and what is owed, of one station and of all.

-- The fails of a station.
CREATE INDEX run_fail_member ON run (member, seq) WHERE verdict = 'fail';

-- What owes that it is placed, as results/fails says it. A plant has hundreds of thousands, of which nearly all were placed: which are not is seen
-- in the index alone.
CREATE INDEX run_owing ON run (jig, seq) INCLUDE (serial, simulated) WHERE purpose = '' AND (outcome = 'fail' OR outcome = 'aborted' AND findings > 0);

-- What was placed last.
CREATE INDEX placement_latest ON placement (after_run, seq);
