-- +goose Up

-- Comb, chunk honey and wax, in pieces or in thousandths of the cooperative's unit, signed: what left is below zero. Append-only.
CREATE TABLE side_entry (
    side_entry  uuid PRIMARY KEY,
    number      bigint GENERATED ALWAYS AS IDENTITY CONSTRAINT side_entry_number UNIQUE,
    good        text NOT NULL,
    move        text NOT NULL,
    quantity    bigint NOT NULL CHECK (quantity <> 0),
    crop_year   integer NOT NULL,
    member      text NOT NULL,
    customer    text NOT NULL,
    note        text NOT NULL,
    recorder    text NOT NULL,
    record_time timestamptz NOT NULL
);
CREATE INDEX side_entry_by_good ON side_entry (good, crop_year) INCLUDE (quantity);
