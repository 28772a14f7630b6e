-- Weights taken from an indicator, each for one weighing, and what a drum was when it was weighed.

-- +goose Up

CREATE TABLE indication_capture (
    id             uuid CONSTRAINT indication_capture_pk PRIMARY KEY,
    scale          text COLLATE "C" NOT NULL CONSTRAINT indication_capture_of_scale REFERENCES scale,
    weight         bigint NOT NULL CONSTRAINT indication_capture_not_negative CHECK (weight >= 0),
    raw_indication text NOT NULL,
    receive_time   timestamptz NOT NULL,
    stable_since   timestamptz NOT NULL,
    capturer       text NOT NULL,
    capture_time   timestamptz NOT NULL
);
CREATE INDEX indication_capture_by_scale ON indication_capture (scale, capture_time, id);

-- One weight serves one weighing: reweigh is empty for the first weighing of a barrel.
CREATE TABLE indication_use (
    capture uuid CONSTRAINT indication_use_pk PRIMARY KEY CONSTRAINT indication_use_of_capture REFERENCES indication_capture,
    barrel  uuid NOT NULL CONSTRAINT indication_use_for_barrel REFERENCES barrel,
    reweigh integer,
    CONSTRAINT indication_use_for_reweigh FOREIGN KEY (barrel, reweigh) REFERENCES reweigh
);
CREATE UNIQUE INDEX indication_use_by_barrel ON indication_use (barrel, coalesce(reweigh, 0));

ALTER TABLE barrel ADD COLUMN container text NOT NULL DEFAULT '';
