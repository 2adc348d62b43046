-- Migration 11: which notices each station took, by its own word, and where the readings of retired months lie.

-- A row a station: it puts the row of before in its place. Which notices hang here is in notice.
CREATE TABLE notice_taken (
  member   bigint PRIMARY KEY REFERENCES member (member),
  number   bigint NOT NULL CHECK (number >= 0), -- of the last notice that it took
  trouble  text COLLATE "C" NOT NULL,           -- code of what it does not believe, empty for nothing
  about    bigint NOT NULL,                     -- number of the notice or head that the trouble is of
  told_us  bigint NOT NULL                      -- by the clock of the plant
);
CALL guard_own('notice_taken');

-- The folder that the files of a month were read back from, as whoever retired it named it.
ALTER TABLE retired_month ADD COLUMN folder text COLLATE "C" NOT NULL DEFAULT '';
