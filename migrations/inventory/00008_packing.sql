-- +goose Up

-- What a packing line shows before and while a lot runs on it. Weights are ten-thousandths of the unit.
CREATE TABLE line_clearance (
    line_clearance uuid PRIMARY KEY,
    number         bigint GENERATED ALWAYS AS IDENTITY CONSTRAINT line_clearance_number UNIQUE,
    line           text NOT NULL,
    after_lot_code text NOT NULL,
    cleaning       text NOT NULL,
    clearer        text NOT NULL,
    clear_time     timestamptz NOT NULL
);
CREATE INDEX line_clearance_by_line ON line_clearance (line, number);
CREATE INDEX pack_lot_by_line ON pack_lot (line, number);

CREATE TABLE line_check (
    line_check uuid PRIMARY KEY,
    number     bigint GENERATED ALWAYS AS IDENTITY CONSTRAINT line_check_number UNIQUE,
    pack_lot   uuid NOT NULL REFERENCES pack_lot,
    unit       text NOT NULL,
    declared   bigint NOT NULL CHECK (declared > 0),
    weights    bigint[] NOT NULL,
    average    bigint NOT NULL,
    lowest     bigint NOT NULL,
    variation  bigint NOT NULL,
    stopped    boolean NOT NULL,
    sentence   text NOT NULL,
    checker    text NOT NULL,
    check_time timestamptz NOT NULL
);
CREATE INDEX line_check_by_lot ON line_check (pack_lot, number);

-- Pallets: what stands on one is never changed; it leaves with a shipment or is taken apart, once. Whoever does either holds the
-- locks of its lots.
CREATE TABLE pallet (
    pallet     uuid PRIMARY KEY,
    number     bigint GENERATED ALWAYS AS IDENTITY CONSTRAINT pallet_number UNIQUE,
    builder    text NOT NULL,
    build_time timestamptz NOT NULL
);

CREATE TABLE pallet_code (
    pallet uuid PRIMARY KEY REFERENCES pallet,
    sscc   text NOT NULL CONSTRAINT pallet_code_once UNIQUE
);

CREATE TABLE pallet_line (
    pallet_line uuid PRIMARY KEY,
    pallet      uuid NOT NULL REFERENCES pallet,
    line        integer NOT NULL,
    pack_lot    uuid NOT NULL REFERENCES pack_lot,
    jars        bigint NOT NULL CHECK (jars > 0),
    CONSTRAINT pallet_line_place UNIQUE (pallet, line)
);
CREATE INDEX pallet_line_by_lot ON pallet_line (pack_lot);

CREATE TABLE pallet_break (
    pallet     uuid PRIMARY KEY REFERENCES pallet,
    breaker    text NOT NULL,
    reason     text NOT NULL,
    break_time timestamptz NOT NULL
);

CREATE TABLE shipment_pallet (
    pallet   uuid PRIMARY KEY REFERENCES pallet,
    shipment uuid NOT NULL REFERENCES shipment
);
CREATE INDEX shipment_pallet_by_shipment ON shipment_pallet (shipment);
CREATE INDEX pallet_by_time ON pallet (build_time);

-- How warm a stay is meant to be at most, in tenths of a degree, and who stands by where that is scalding.
ALTER TABLE heat_stay
    ADD COLUMN limit_celsius bigint NOT NULL DEFAULT 490,
    ADD COLUMN second_person text NOT NULL DEFAULT '';
