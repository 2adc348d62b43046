-- Migration 12: what a run read of its pad, in one short row, so that a unit is found among millions of runs without
-- reading each of their keys. It stays when the readings of a month are retired.
CREATE TABLE run_pad (
  revision bigint NOT NULL,
  simulated bigint NOT NULL,
  jig bigint NOT NULL,
  run bigint NOT NULL,
  u smallint NOT NULL,      -- largest standard uncertainty of its readings, in 1/10,000 of them
  pad bytea NOT NULL,       -- two bytes a key, the higher first: natural logarithm of its ohms in 1/1,000; -32768 for none to compare
  PRIMARY KEY (revision, simulated, jig, run)
);

-- Of what is here already; later ones come when they are counted.
INSERT INTO run_pad (revision, simulated, jig, run, u, pad)
SELECT revision, simulated, jig, run,
       least(32767, max(CASE WHEN good THEN ceil(10000 * coalesce(closed_u_ohm, 0) / closed_ohm) ELSE 0 END))::smallint,
       string_agg(int2send(CASE WHEN good THEN greatest(-32767, least(32767, round(1000 * ln(closed_ohm)))) ELSE -32768 END::smallint), '' ORDER BY place)
FROM (SELECT run.revision, run.simulated, run.jig, run_key.run, place, closed_ohm, closed_u_ohm,
             coalesce(passed = 1 AND closed_at_least = 0 AND closed_ohm > 0, false) AS good
      FROM run JOIN run_key ON run_key.run = run.seq
      WHERE run.purpose = '' AND run.outcome IN ('pass', 'fail') AND run.actuation <> 'electrical') AS read
GROUP BY revision, simulated, jig, run HAVING count(*) FILTER (WHERE good) > 0
ON CONFLICT DO NOTHING;

CALL guard_records('run_pad', 'run');
