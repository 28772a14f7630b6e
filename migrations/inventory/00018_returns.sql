-- +goose Up

-- What customers send back. A transfer out of a shipment says which of the places it was loaded from its honey had left: jars and drums do
-- not mix on a lorry.
ALTER TABLE transfer ADD COLUMN of_place text NOT NULL DEFAULT '',
    ADD CONSTRAINT transfer_back_of CHECK ((from_place LIKE 'shipments/%') = (of_place <> ''));

CREATE TABLE customer_return (
    customer_return uuid PRIMARY KEY,
    number          bigint GENERATED ALWAYS AS IDENTITY CONSTRAINT customer_return_number UNIQUE,
    shipment        uuid NOT NULL REFERENCES shipment,
    place           text NOT NULL,
    pallet          uuid REFERENCES pallet,
    jars            bigint NOT NULL CHECK (jars >= 0),
    mass            bigint NOT NULL CHECK (mass > 0),
    reason          text NOT NULL,
    receiver        text NOT NULL,
    receive_time    timestamptz NOT NULL,
    CONSTRAINT customer_return_pallet_once UNIQUE (pallet, place)
);
CREATE INDEX customer_return_by_shipment ON customer_return (shipment, place);
CREATE INDEX customer_return_by_place ON customer_return (place);

-- What becomes of it; each decision is the transfer it made. What waits is in the vessel of the return.
CREATE TABLE return_decision (
    transfer        uuid PRIMARY KEY REFERENCES transfer (transfer),
    customer_return uuid NOT NULL REFERENCES customer_return,
    outcome         text NOT NULL,
    jars            bigint NOT NULL CHECK (jars >= 0)
);
CREATE INDEX return_decision_by_return ON return_decision (customer_return);
