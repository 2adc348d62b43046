-- Migration 18: the newest units of a product definition, found without reading past others.
--
-- Each run is compared with the pads tested before it (docs/samepad.md).

CREATE INDEX run_judged ON run (revision, simulated, seq)
WHERE purpose = '' AND outcome IN ('pass', 'fail') AND actuation <> 'electrical';
