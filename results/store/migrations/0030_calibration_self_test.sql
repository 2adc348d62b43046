-- Migration 29: what a jig read of itself when it was verified, which its self-test before each
-- unit is held against. Calibrations of before have NULL, and zeros always.

ALTER TABLE calibration ADD COLUMN self_test TEXT CHECK (json_type(self_test, '$.checks') = 'array');
-- {"taken_us":1,"checks":[{"reference_ohm":500,"check_ohm":470,"ohm":470.01,"u_ohm":0.002}, ...],
--  "ground":[0.00002,0.000002],"vref":[0.99998,0.000002],"input_a":[2.5e-10,1e-12],"inputs":10,"noise":0.00002}
