-- Migration 15: what a run says, as codes with their arguments: where a finding is, what is odd
-- about it, why a run ended with neither pass nor fail. Each is a list, the code first. Runs of
-- before have NULL; location and reason say the same in words, and nothing is concluded from those.

ALTER TABLE run_finding ADD COLUMN site TEXT CHECK (json_type(site) = 'array');  -- ["key", "7", "R3", "C1"]
ALTER TABLE run_finding ADD COLUMN how  TEXT CHECK (json_type(how) = 'array');   -- [["gone when read again"], ...]; NULL: nothing odd
ALTER TABLE run ADD COLUMN ended TEXT CHECK (json_type(ended) = 'array');            -- ["never pressed", "7, 8"]; why
