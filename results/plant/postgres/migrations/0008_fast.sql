-- Migration: what the questions of a plant of ten million runs go by.

-- When each revision began.
CREATE INDEX cell_began ON cell (revision, simulated, first_run) WHERE runs > 0;
