-- +goose Up

-- How many months honey under a label keeps, and the day a lot that was started under one is best by. Labels and lots of before have none.
ALTER TABLE label ADD COLUMN shelf_months integer CONSTRAINT label_shelf_months CHECK (shelf_months BETWEEN 1 AND 60);
ALTER TABLE pack_lot ADD COLUMN best_by date;

-- Whom to call about a shipment that left for nobody the house has on record; empty for others, and for all of before.
ALTER TABLE shipment ADD COLUMN recall_contact text NOT NULL DEFAULT '';

-- The customer on record a shipment without an order left for.
CREATE TABLE shipment_customer (
    shipment uuid PRIMARY KEY REFERENCES shipment,
    customer text NOT NULL
);

-- When a barrel was weighed in; a barrel of before has it after a rebuild of what intake told.
ALTER TABLE barrel ADD COLUMN weigh_time timestamptz;
CREATE INDEX barrel_by_weigh_time ON barrel (weigh_time);
CREATE INDEX hold_release_by_time ON hold_release (release_time);
