-- Migration 13: which notices a station took stands in notice_taken alone. Stations of before still say it here as well; nobody reads it.
ALTER TABLE heartbeat ALTER COLUMN notice SET DEFAULT 0;
