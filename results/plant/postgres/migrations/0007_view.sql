-- Migration 7: indexes by which the life of a unit is found, however many stations there are.

CREATE INDEX override_serial ON override (serial);
CREATE INDEX placement_run ON placement (run);
CREATE INDEX run_unfinished_start ON run_unfinished (start);
CREATE INDEX return_intake_case ON return_intake (return_case);
CREATE INDEX return_disposition_case ON return_disposition (return_case);
CREATE INDEX return_disposal_disposition ON return_disposal (disposition);
