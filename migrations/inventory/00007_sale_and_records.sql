-- +goose Up

-- What is printed on a label, and who approved it. Ounces are hundredths, grams and degrees tenths.
ALTER TABLE label
    ADD COLUMN gtin           text NOT NULL DEFAULT '',
    ADD COLUMN net_ounces     bigint NOT NULL DEFAULT 0,
    ADD COLUMN net_grams      bigint NOT NULL DEFAULT 0,
    ADD COLUMN origin         text NOT NULL DEFAULT '',
    ADD COLUMN claims         text[] NOT NULL DEFAULT '{}',
    ADD COLUMN max_celsius    bigint,
    ADD COLUMN infant_caution boolean NOT NULL DEFAULT false;

CREATE TABLE label_approval (
    label        text PRIMARY KEY REFERENCES label,
    approver     text NOT NULL,
    evidence     text NOT NULL,
    approve_time timestamptz NOT NULL
);
-- Labels in use before labels were approved go on.
INSERT INTO label_approval SELECT label, creator, 'in use before approvals were recorded', create_time FROM label;

-- Honey sold as it is, in barrels or out of a tank.
CREATE TABLE shipment_bulk (
    shipment   uuid NOT NULL REFERENCES shipment,
    line       integer NOT NULL,
    place      text NOT NULL,
    mass       bigint NOT NULL CHECK (mass > 0),
    containers text NOT NULL,
    PRIMARY KEY (shipment, line)
);

-- Mock recalls: what the books answered, and what people found.
CREATE TABLE recall_drill (
    recall_drill uuid PRIMARY KEY,
    number       bigint GENERATED ALWAYS AS IDENTITY CONSTRAINT recall_drill_number UNIQUE,
    subject      text NOT NULL,
    total        bigint NOT NULL,
    accounted    bigint NOT NULL,
    barrels      integer NOT NULL,
    members      integer NOT NULL,
    shipments    integer NOT NULL,
    recounted    boolean NOT NULL,
    milliseconds bigint NOT NULL,
    starter      text NOT NULL,
    start_time   timestamptz NOT NULL
);

CREATE TABLE recall_drill_finish (
    recall_drill uuid PRIMARY KEY REFERENCES recall_drill,
    found        bigint NOT NULL CHECK (found >= 0),
    contacts     text NOT NULL,
    note         text NOT NULL,
    finisher     text NOT NULL,
    finish_time  timestamptz NOT NULL
);

-- Locations counted.
CREATE TABLE cycle_count (
    cycle_count      uuid PRIMARY KEY,
    number           bigint GENERATED ALWAYS AS IDENTITY CONSTRAINT cycle_count_number UNIQUE,
    location         text NOT NULL,
    matched          text[] NOT NULL,
    missing          text[] NOT NULL,
    misplaced        text[] NOT NULL, -- tags, with items and where they are booked beside them
    misplaced_items  uuid[] NOT NULL,
    misplaced_booked text[] NOT NULL,
    unknown          text[] NOT NULL,
    counter          text NOT NULL,
    count_time       timestamptz NOT NULL
);

CREATE INDEX transfer_by_time ON transfer (transfer_time, number);
CREATE INDEX movement_by_time ON movement (move_time, movement);
