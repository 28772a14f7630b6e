-- +goose Up

-- Temperature logs, append-only. What is warmed is a place, "stock/…" or "charges/…".
CREATE TABLE heat_stay (
    stay        text PRIMARY KEY,
    create_time timestamptz NOT NULL
);

CREATE TABLE heat_warmed (
    stay   text NOT NULL REFERENCES heat_stay,
    place  text NOT NULL,
    PRIMARY KEY (stay, place)
);
CREATE INDEX heat_warmed_by_place ON heat_warmed (place, stay);

CREATE TABLE heat_reading (
    stay        text NOT NULL REFERENCES heat_stay,
    probe       text NOT NULL,
    time        timestamptz NOT NULL,
    celsius     bigint NOT NULL, -- tenths of a degree
    recorder    text NOT NULL,
    record_time timestamptz NOT NULL,
    CONSTRAINT heat_reading_once PRIMARY KEY (stay, probe, time)
);
