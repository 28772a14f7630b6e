-- +goose Up

-- Samples of jars weighed against the label. Weights are ten-thousandths of the unit. What the tables of the day made of
-- them is kept beside them: a later edition must not change what was decided. Append-only.
CREATE TABLE net_content_check (
    net_content_check uuid PRIMARY KEY,
    number            bigint GENERATED ALWAYS AS IDENTITY CONSTRAINT net_content_check_number UNIQUE,
    pack_lot          uuid NOT NULL REFERENCES pack_lot,
    unit              text NOT NULL,
    declared          bigint NOT NULL CHECK (declared > 0),
    lot_size          bigint NOT NULL CHECK (lot_size > 0),
    weights           bigint[] NOT NULL,
    average           bigint NOT NULL,
    deviation         bigint NOT NULL,
    error_limit       bigint NOT NULL,
    variation         bigint NOT NULL,
    short             integer NOT NULL,
    short_allowed     integer NOT NULL,
    average_kept      boolean NOT NULL,
    sentences         text[] NOT NULL,
    checker           text NOT NULL,
    check_time        timestamptz NOT NULL
);
CREATE INDEX net_content_check_by_lot ON net_content_check (pack_lot, number);

CREATE TABLE net_content_release (
    net_content_check uuid PRIMARY KEY REFERENCES net_content_check,
    releaser          text NOT NULL,
    reason            text NOT NULL,
    release_time      timestamptz NOT NULL
);
