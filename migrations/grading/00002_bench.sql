-- Samples, readings and certificates. The laboratory keeps nothing that could say whose a sample is.

-- +goose Up

-- Filled from intake's feed and from nothing else.
CREATE TABLE sample (
    code      text CONSTRAINT sample_pk PRIMARY KEY,
    variety   text NOT NULL,
    crop_year integer NOT NULL,
    draw_time timestamptz NOT NULL
);
CREATE INDEX sample_by_draw_time ON sample (draw_time, code);
GRANT UPDATE, DELETE ON sample TO grading_app;

-- Values are in ten-thousandths of the factor's unit. A reading replaces another in one unbroken line per factor.
CREATE TABLE reading (
    id            uuid CONSTRAINT reading_pk PRIMARY KEY,
    sample        text NOT NULL,
    kind          text NOT NULL,
    factor        text NOT NULL,
    raw_value     text NOT NULL,
    temperature_c text NOT NULL,
    computed      bigint NOT NULL,
    reported      bigint NOT NULL,
    instrument    text NOT NULL,
    analyst       text NOT NULL CONSTRAINT reading_analyst_known CHECK (analyst <> ''),
    read_time     timestamptz NOT NULL,
    replaces      uuid CONSTRAINT reading_replaces_known REFERENCES reading CONSTRAINT reading_replaced_once UNIQUE,
    reason        text NOT NULL,
    explanation   text NOT NULL,
    CONSTRAINT reading_replaced_with_reason CHECK ((replaces IS NULL) = (reason = ''))
);
CREATE UNIQUE INDEX reading_first_once ON reading (sample, factor) WHERE replaces IS NULL;
CREATE INDEX reading_by_sample ON reading (sample);

-- decision and readings are what was issued, as issued: json keeps the text, jsonb would rewrite it.
CREATE TABLE certificate (
    id               uuid CONSTRAINT certificate_pk PRIMARY KEY,
    year             integer NOT NULL,
    counter          bigint NOT NULL,
    number           text NOT NULL CONSTRAINT certificate_number_once UNIQUE,
    sample           text NOT NULL,
    variety          text NOT NULL,
    crop_year        integer NOT NULL,
    style            text NOT NULL,
    standard         text NOT NULL,
    standard_version text NOT NULL,
    grade            text NOT NULL,
    decision         json NOT NULL,
    readings         json NOT NULL,
    releaser         text NOT NULL CONSTRAINT certificate_releaser_known CHECK (releaser <> ''),
    issue_time       timestamptz NOT NULL,
    supersedes       uuid CONSTRAINT certificate_supersedes_known REFERENCES certificate
                     CONSTRAINT certificate_superseded_once UNIQUE,
    reason           text NOT NULL,
    CONSTRAINT certificate_counter_once UNIQUE (year, counter),
    CONSTRAINT certificate_superseded_with_reason CHECK ((supersedes IS NULL) = (reason = ''))
);
CREATE UNIQUE INDEX certificate_first_once ON certificate (sample) WHERE supersedes IS NULL;

-- Numbers have no gap: the row is raised in the transaction that uses the number.
CREATE TABLE certificate_counter (
    year integer CONSTRAINT certificate_counter_pk PRIMARY KEY,
    last bigint NOT NULL
);
GRANT UPDATE ON certificate_counter TO grading_app;

-- Where a sample stands; follows from the records above. The row is also the lock of the sample.
CREATE TABLE bench (
    sample      text CONSTRAINT bench_pk PRIMARY KEY,
    state       text NOT NULL DEFAULT 'WAITING' CONSTRAINT bench_state_known CHECK (state IN ('WAITING', 'MEASURED', 'CERTIFIED')),
    certificate uuid CONSTRAINT bench_certificate_known REFERENCES certificate,
    CONSTRAINT bench_certified_by_certificate CHECK ((state = 'CERTIFIED') = (certificate IS NOT NULL))
);
GRANT UPDATE ON bench TO grading_app;
