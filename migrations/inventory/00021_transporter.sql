-- +goose Up

-- Where whoever takes a shipment is, and by what telephone. Shipments of before have neither.
ALTER TABLE shipment ADD COLUMN carrier_address text NOT NULL DEFAULT '',
    ADD COLUMN carrier_telephone text NOT NULL DEFAULT '';
CREATE INDEX shipment_by_carrier ON shipment (carrier, number);
