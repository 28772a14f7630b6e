-- Controls out of use, and who looked at what.

-- +goose Up

CREATE TABLE control_retirement (
    control     text CONSTRAINT control_retirement_pk PRIMARY KEY REFERENCES control,
    retirer     text NOT NULL,
    reason      text NOT NULL CONSTRAINT control_retirement_with_reason CHECK (reason <> ''),
    retire_time timestamptz NOT NULL
);

CREATE TABLE view_log (
    sequence  bigint GENERATED ALWAYS AS IDENTITY CONSTRAINT view_log_pk PRIMARY KEY,
    viewer    text NOT NULL,
    resource  text NOT NULL,
    method    text NOT NULL,
    view_time timestamptz NOT NULL
);
CREATE INDEX view_log_by_resource ON view_log (resource, sequence);
CREATE INDEX view_log_by_viewer ON view_log (viewer, sequence);
CREATE INDEX control_run_by_time ON control_run (run_time);
