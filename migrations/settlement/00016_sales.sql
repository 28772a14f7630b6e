-- What the warehouse says its shipments brought and cost, and which of it stands on the account of a pool.

-- +goose Up

-- From inventory: what of a sale belongs to honey of one floral source and crop year. Amounts are minor units, masses thousandths.
CREATE TABLE inventory_sale_part (
    sale       uuid NOT NULL,
    place      integer NOT NULL,
    shipment   uuid NOT NULL,
    kind       smallint NOT NULL,
    crop_year  integer NOT NULL,
    variety    text NOT NULL,
    mass       bigint NOT NULL,
    amount     bigint NOT NULL,
    document   text NOT NULL,
    entry_date date NOT NULL,
    CONSTRAINT inventory_sale_part_pk PRIMARY KEY (sale, place)
);
CREATE INDEX inventory_sale_part_in_order ON inventory_sale_part (entry_date, sale, place);
GRANT UPDATE, DELETE ON inventory_sale_part TO settlement_app;

-- A part stands on one account, once.
ALTER TABLE pool_entry ADD COLUMN sale uuid, ADD COLUMN sale_place integer,
    ADD CONSTRAINT pool_entry_sale_whole CHECK ((sale IS NULL) = (sale_place IS NULL)),
    ADD CONSTRAINT pool_entry_sale_once UNIQUE (sale, sale_place);
