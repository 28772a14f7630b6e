-- Quality control: reference materials, their runs, and results that a failed run put in doubt.

-- +goose Up

-- Values are in ten-thousandths of the factor's unit.
CREATE TABLE control (
    id          text CONSTRAINT control_pk PRIMARY KEY,
    factor      text NOT NULL,
    material    text NOT NULL,
    target      bigint NOT NULL,
    sigma       bigint NOT NULL CONSTRAINT control_sigma_positive CHECK (sigma > 0),
    basis       text NOT NULL,
    creator     text NOT NULL,
    create_time timestamptz NOT NULL
);

CREATE TABLE control_run (
    sequence      bigint GENERATED ALWAYS AS IDENTITY CONSTRAINT control_run_pk PRIMARY KEY,
    id            uuid NOT NULL CONSTRAINT control_run_id_once UNIQUE,
    control       text NOT NULL CONSTRAINT control_run_control_known REFERENCES control,
    kind          text NOT NULL,
    raw_value     text NOT NULL,
    temperature_c text NOT NULL,
    value         bigint NOT NULL,
    verdict       text NOT NULL CONSTRAINT control_run_verdict_known CHECK (verdict IN ('PASS', 'WARNING', 'FAIL')),
    instrument    text NOT NULL,
    analyst       text NOT NULL,
    run_time      timestamptz NOT NULL,
    explanation   text NOT NULL
);
CREATE INDEX control_run_by_control ON control_run (control, sequence);

-- Whether a factor may be measured and released. Who records takes the row in share, who runs a control takes it alone.
CREATE TABLE factor_bench (
    factor    text CONSTRAINT factor_bench_pk PRIMARY KEY,
    closed_by uuid CONSTRAINT factor_bench_closed_by_known REFERENCES control_run (id)
);
GRANT UPDATE ON factor_bench TO grading_app;
INSERT INTO factor_bench (factor)
VALUES ('MOISTURE'), ('COLOR'), ('FLAVOR'), ('DEFECTS'), ('CLARITY'), ('HMF'), ('DIASTASE'), ('CONDUCTIVITY'), ('SUGARS'),
       ('SUCROSE'), ('ACIDITY'), ('INSOLUBLES'), ('DENSITY'), ('HONEYDEW');

-- A reading is in doubt while a row here has no counterpart in reading_confirmed.
CREATE TABLE reading_doubted (
    reading uuid NOT NULL CONSTRAINT reading_doubted_known REFERENCES reading,
    run     uuid NOT NULL CONSTRAINT reading_doubted_run_known REFERENCES control_run (id),
    CONSTRAINT reading_doubted_pk PRIMARY KEY (reading, run)
);
CREATE INDEX reading_doubted_by_run ON reading_doubted (run);

CREATE TABLE reading_confirmed (
    reading      uuid NOT NULL,
    run          uuid NOT NULL,
    confirmer    text NOT NULL,
    reason       text NOT NULL CONSTRAINT reading_confirmed_with_reason CHECK (reason <> ''),
    confirm_time timestamptz NOT NULL,
    CONSTRAINT reading_confirmed_pk PRIMARY KEY (reading, run),
    CONSTRAINT reading_confirmed_doubted FOREIGN KEY (reading, run) REFERENCES reading_doubted
);

CREATE INDEX reading_by_factor_time ON reading (factor, read_time);

ALTER TABLE bench DROP CONSTRAINT bench_state_known, DROP CONSTRAINT bench_certified_by_certificate;
ALTER TABLE bench
    ADD CONSTRAINT bench_state_known CHECK (state IN ('WAITING', 'MEASURED', 'CERTIFIED', 'PENDING')),
    ADD CONSTRAINT bench_certified_has_certificate CHECK (state <> 'CERTIFIED' OR certificate IS NOT NULL);
