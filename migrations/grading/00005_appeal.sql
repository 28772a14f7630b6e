-- Appeals: opened, measured again, decided. Each step is a record of its own; none is changed.

-- +goose Up

-- Last day, by the cooperative's own calendar, on which a certificate can be appealed. The time zone is not known here,
-- so certificates from before get the date in Universal Time.
ALTER TABLE certificate ADD COLUMN appeal_until date;
UPDATE certificate SET appeal_until = (issue_time AT TIME ZONE 'UTC')::date + 30;
ALTER TABLE certificate ALTER COLUMN appeal_until SET NOT NULL;

CREATE TABLE appeal (
    id          uuid CONSTRAINT appeal_pk PRIMARY KEY,
    certificate uuid NOT NULL CONSTRAINT appeal_certificate_known REFERENCES certificate,
    sample      text NOT NULL,
    factor      text NOT NULL,
    stage       text NOT NULL CONSTRAINT appeal_stage_known CHECK (stage IN ('RETEST', 'REFEREE')),
    reason      text NOT NULL CONSTRAINT appeal_with_reason CHECK (reason <> ''),
    opener      text NOT NULL,
    open_time   timestamptz NOT NULL,
    CONSTRAINT appeal_stage_once UNIQUE (sample, factor, stage)
);

CREATE TABLE appeal_reading (
    appeal        uuid CONSTRAINT appeal_reading_pk PRIMARY KEY REFERENCES appeal,
    kind          text NOT NULL,
    raw_value     text NOT NULL,
    temperature_c text NOT NULL,
    computed      bigint NOT NULL,
    reported      bigint NOT NULL,
    instrument    text NOT NULL,
    laboratory    text NOT NULL,
    analyst       text NOT NULL,
    read_time     timestamptz NOT NULL,
    explanation   text NOT NULL
);

CREATE TABLE appeal_decision (
    appeal          uuid CONSTRAINT appeal_decision_pk PRIMARY KEY REFERENCES appeal,
    upheld          boolean NOT NULL,
    decider         text NOT NULL,
    decide_time     timestamptz NOT NULL,
    decide_date     date NOT NULL,
    explanation     text NOT NULL,
    new_certificate uuid CONSTRAINT appeal_decision_certificate_known REFERENCES certificate,
    CONSTRAINT appeal_decision_upheld_has_certificate CHECK (upheld = (new_certificate IS NOT NULL))
);
