-- Blind duplicates, and readings that are the mean of a borderline one and two more.

-- +goose Up

-- A second jar under a code of its own. Only the lead is told which.
CREATE TABLE duplicate (
    code        text CONSTRAINT duplicate_pk PRIMARY KEY,
    original    text NOT NULL,
    creator     text NOT NULL,
    create_time timestamptz NOT NULL
);
CREATE INDEX duplicate_by_original ON duplicate (original);

-- All jars on the bench, duplicates among them as if they were samples of their own.
CREATE VIEW jar AS
SELECT code, variety, crop_year, draw_time, NULL::text AS original FROM sample
UNION ALL
SELECT d.code, s.variety, s.crop_year, d.create_time, d.original FROM duplicate d JOIN sample s ON s.code = d.original;

ALTER TABLE reading ADD COLUMN mean boolean NOT NULL DEFAULT false;
