-- Contacts that were read at two currents. NULL in runs of before, and where the product does
-- not ask for it: {"small": {"pa", "mohm", "u_mohm"}, "large": {the same}, "conduction"}.
ALTER TABLE run_key ADD COLUMN two_currents TEXT CHECK (json_type(two_currents) = 'object'
  AND two_currents ->> '$.conduction' IN ('ohmic', 'not ohmic', 'unsteady'));

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
