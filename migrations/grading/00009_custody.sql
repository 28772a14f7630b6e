-- Custody: portions of samples nobody can vouch for, and which portion a reading was made on.

-- +goose Up

-- Filled from intake's feed and from nothing else. since_time is the last time the chain is known to have held; absent, never.
CREATE TABLE custody_gap (
    sample     text NOT NULL,
    portion    text NOT NULL CONSTRAINT custody_gap_portion_known CHECK (portion IN ('A', 'B', 'C')),
    reason     text NOT NULL,
    since_time timestamptz,
    CONSTRAINT custody_gap_pk PRIMARY KEY (sample, portion)
);
GRANT UPDATE, DELETE ON custody_gap TO grading_app;

-- Readings from before were made on portion A, second looks on B, and those of referees on C.
ALTER TABLE reading ADD COLUMN portion text NOT NULL DEFAULT 'A' CONSTRAINT reading_portion_known CHECK (portion IN ('A', 'B', 'C'));
ALTER TABLE appeal_reading ADD COLUMN portion text NOT NULL DEFAULT 'B'
    CONSTRAINT appeal_reading_portion_known CHECK (portion IN ('A', 'B', 'C'));
UPDATE appeal_reading r SET portion = 'C' FROM appeal a WHERE a.id = r.appeal AND a.stage = 'REFEREE';
