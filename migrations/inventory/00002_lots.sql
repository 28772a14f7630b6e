-- +goose Up

-- Records of honey on its way from barrels to customers. A place is a resource name, "charges/…".

CREATE TABLE tank (
    tank        text PRIMARY KEY,
    capacity    bigint NOT NULL CHECK (capacity > 0),
    create_time timestamptz NOT NULL
);

CREATE TABLE label (
    label        text PRIMARY KEY,
    title        text NOT NULL,
    variety      text NOT NULL,
    min_share    bigint NOT NULL,
    max_moisture bigint,
    min_pfund    bigint,
    max_pfund    bigint,
    creator      text NOT NULL,
    create_time  timestamptz NOT NULL
);

CREATE TABLE charge (
    charge       uuid PRIMARY KEY,
    number       bigint GENERATED ALWAYS AS IDENTITY CONSTRAINT charge_number UNIQUE,
    tank         text NOT NULL REFERENCES tank,
    previous     uuid REFERENCES charge,
    variety      text NOT NULL,
    min_share    bigint NOT NULL,
    max_moisture bigint,
    min_pfund    bigint,
    max_pfund    bigint,
    picks        uuid[] NOT NULL,
    opener       text NOT NULL,
    open_time    timestamptz NOT NULL
);

CREATE TABLE substitution (
    charge  uuid NOT NULL REFERENCES charge,
    planned uuid NOT NULL,
    used    uuid NOT NULL,
    reason  text NOT NULL,
    actor   text NOT NULL,
    time    timestamptz NOT NULL,
    CONSTRAINT substitution_once PRIMARY KEY (charge, planned)
);

CREATE TABLE charge_close (
    charge     uuid PRIMARY KEY REFERENCES charge,
    closer     text NOT NULL,
    close_time timestamptz NOT NULL
);

CREATE TABLE pack_lot (
    pack_lot   uuid PRIMARY KEY,
    number     bigint GENERATED ALWAYS AS IDENTITY CONSTRAINT pack_lot_number UNIQUE,
    code       text NOT NULL CONSTRAINT pack_lot_code UNIQUE,
    label      text NOT NULL REFERENCES label,
    line       text NOT NULL,
    starter    text NOT NULL,
    start_time timestamptz NOT NULL
);

-- Which charges a lot carries, in the order of their first draw; from the second on somebody confirmed it.
CREATE TABLE pack_charge (
    pack_lot  uuid NOT NULL REFERENCES pack_lot,
    charge    uuid NOT NULL REFERENCES charge,
    place     integer NOT NULL,
    confirmer text NOT NULL,
    reason    text NOT NULL,
    time      timestamptz NOT NULL,
    PRIMARY KEY (pack_lot, charge)
);

CREATE TABLE pack_close (
    pack_lot   uuid PRIMARY KEY REFERENCES pack_lot,
    jars       bigint NOT NULL CHECK (jars > 0),
    mean_net   bigint NOT NULL CHECK (mean_net > 0),
    closer     text NOT NULL,
    close_time timestamptz NOT NULL
);

CREATE TABLE shipment (
    shipment  uuid PRIMARY KEY,
    number    bigint GENERATED ALWAYS AS IDENTITY CONSTRAINT shipment_number UNIQUE,
    customer  text NOT NULL,
    carrier   text NOT NULL,
    shipper   text NOT NULL,
    ship_time timestamptz NOT NULL
);

CREATE TABLE shipment_line (
    shipment uuid NOT NULL REFERENCES shipment,
    line     integer NOT NULL,
    pack_lot uuid NOT NULL REFERENCES pack_lot,
    jars     bigint NOT NULL CHECK (jars > 0),
    mass     bigint NOT NULL,
    PRIMARY KEY (shipment, line)
);
CREATE INDEX shipment_line_by_lot ON shipment_line (pack_lot);

-- A smaller container filled from a barrel; root is the barrel that was delivered.
CREATE TABLE split (
    barrel     uuid PRIMARY KEY,
    root       uuid NOT NULL,
    parent     uuid NOT NULL,
    drum_tag   text NOT NULL,
    net        bigint NOT NULL CHECK (net > 0),
    actor      text NOT NULL,
    split_time timestamptz NOT NULL
);
CREATE INDEX split_by_root ON split (root);

-- The ledger. Numbers are given while both places are locked, so for every place they are in the order of events.
CREATE TABLE transfer (
    number        bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    transfer      uuid NOT NULL CONSTRAINT transfer_id UNIQUE,
    from_place    text NOT NULL,
    to_place      text NOT NULL,
    mass          bigint NOT NULL CHECK (mass > 0),
    actor         text NOT NULL,
    transfer_time timestamptz NOT NULL,
    reason        text NOT NULL,
    CONSTRAINT transfer_somewhere_else CHECK (from_place <> to_place)
);
CREATE INDEX transfer_from ON transfer (from_place, number);
CREATE INDEX transfer_to ON transfer (to_place, number);

-- What tanks, lots, shipments and losses hold by the ledger, and what was taken from a barrel. They are what transfers
-- lock, and can be computed again from the ledger at any time.
CREATE TABLE vessel (
    place   text PRIMARY KEY,
    content bigint NOT NULL CONSTRAINT vessel_holds_enough CHECK (content >= 0),
    jars    bigint NOT NULL DEFAULT 0 CONSTRAINT vessel_jars_enough CHECK (jars >= 0)
);
ALTER TABLE standing ADD COLUMN taken bigint NOT NULL DEFAULT 0 CHECK (taken >= 0);

-- The charge a tank was filled with last; opening one and starting a lot from the tank lock it.
CREATE TABLE tank_state (
    tank   text PRIMARY KEY REFERENCES tank,
    charge uuid REFERENCES charge
);

-- Every container of honey in the house: delivered barrels, and what was filled from them.
CREATE VIEW holding AS
SELECT barrel, barrel AS root, NULL::uuid AS parent, ticket, member, drum_tag, net, variety, crop_year, receive_date, withdrawn
FROM barrel
UNION ALL
SELECT s.barrel, s.root, s.parent, b.ticket, b.member, s.drum_tag, s.net, b.variety, b.crop_year, b.receive_date, b.withdrawn
FROM split s JOIN barrel b ON b.barrel = s.root;

-- +goose StatementBegin
DO $$
DECLARE
    app text := quote_ident(current_schema() || '_app');
BEGIN
    EXECUTE 'GRANT UPDATE (content, jars) ON vessel TO ' || app;
    EXECUTE 'GRANT UPDATE (taken) ON standing TO ' || app;
    EXECUTE 'GRANT UPDATE (charge) ON tank_state TO ' || app;
END
$$;
-- +goose StatementEnd
