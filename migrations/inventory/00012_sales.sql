-- +goose Up

-- Who buys honey; of one customer the newest row counts. Append-only, as everything here.
CREATE TABLE customer_detail (
    number         bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    customer       text NOT NULL,
    title          text NOT NULL,
    address        text NOT NULL,
    recall_contact text NOT NULL,
    recorder       text NOT NULL,
    record_time    timestamptz NOT NULL
);
CREATE INDEX customer_detail_newest ON customer_detail (customer COLLATE "C", number DESC);

CREATE TABLE sales_order (
    sales_order uuid PRIMARY KEY,
    number      bigint GENERATED ALWAYS AS IDENTITY CONSTRAINT sales_order_number UNIQUE,
    customer    text NOT NULL,
    reference   text NOT NULL,
    due_date    date NOT NULL,
    bulk        bigint NOT NULL CHECK (bulk >= 0),
    placer      text NOT NULL,
    place_time  timestamptz NOT NULL
);
CREATE INDEX sales_order_by_customer ON sales_order (customer, number);

CREATE TABLE sales_order_line (
    sales_order uuid NOT NULL REFERENCES sales_order,
    line        integer NOT NULL,
    label       text NOT NULL REFERENCES label,
    jars        bigint NOT NULL CHECK (jars > 0),
    PRIMARY KEY (sales_order, line),
    CONSTRAINT sales_order_line_label UNIQUE (sales_order, label)
);

CREATE TABLE sales_order_cancel (
    sales_order uuid PRIMARY KEY REFERENCES sales_order,
    canceller   text NOT NULL,
    reason      text NOT NULL,
    cancel_time timestamptz NOT NULL
);

-- The order a shipment left for; what left for an order is added up from its shipments.
CREATE TABLE shipment_order (
    shipment    uuid PRIMARY KEY REFERENCES shipment,
    sales_order uuid NOT NULL REFERENCES sales_order
);
CREATE INDEX shipment_order_by_order ON shipment_order (sales_order);

-- What a shipment brought or cost, in minor units of the currency, with its parts by crop year and floral source.
CREATE TABLE sale (
    sale        uuid PRIMARY KEY,
    number      bigint GENERATED ALWAYS AS IDENTITY CONSTRAINT sale_number UNIQUE,
    shipment    uuid NOT NULL REFERENCES shipment,
    kind        text NOT NULL,
    amount      bigint NOT NULL CHECK (amount <> 0),
    document    text NOT NULL,
    entry_date  date NOT NULL,
    varieties   text[] NOT NULL,
    crop_years  integer[] NOT NULL,
    masses      bigint[] NOT NULL,
    amounts     bigint[] NOT NULL,
    recorder    text NOT NULL,
    record_time timestamptz NOT NULL,
    CONSTRAINT sale_once UNIQUE (shipment, kind, document)
);
