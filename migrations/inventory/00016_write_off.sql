-- Honey looked for and not found is asked to be written off; the office decides.

-- +goose Up
CREATE TABLE write_off (
    write_off uuid PRIMARY KEY,
    number    bigint GENERATED ALWAYS AS IDENTITY CONSTRAINT write_off_number UNIQUE,
    place     text NOT NULL,
    mass      bigint NOT NULL CHECK (mass > 0),
    jars      bigint NOT NULL CHECK (jars >= 0), -- 0 for a mass
    held      bigint NOT NULL,                   -- what the place held then
    reason    text NOT NULL,
    asker     text NOT NULL,
    ask_time  timestamptz NOT NULL
);
CREATE INDEX write_off_by_place ON write_off (place, number);

-- One for each request, and a transfer for each approval.
CREATE TABLE write_off_decision (
    write_off   uuid PRIMARY KEY REFERENCES write_off,
    transfer    uuid CONSTRAINT write_off_booked_once UNIQUE REFERENCES transfer (transfer), -- none: declined
    reason      text NOT NULL,
    decider     text NOT NULL,
    decide_time timestamptz NOT NULL
);

CREATE VIEW waiting_write_off AS
SELECT o.* FROM write_off o WHERE NOT EXISTS (SELECT FROM write_off_decision d WHERE d.write_off = o.write_off);
