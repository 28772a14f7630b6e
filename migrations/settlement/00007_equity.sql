-- Equity given back. What was retained stands in the payout lines; only its redemption is new.

-- +goose Up

CREATE TABLE equity_redemption (
    redemption   uuid CONSTRAINT equity_redemption_pk PRIMARY KEY,
    crop_year    integer NOT NULL,
    percent      bigint NOT NULL CONSTRAINT equity_redemption_percent_possible CHECK (percent > 0 AND percent <= 10000),
    resolution   text NOT NULL CONSTRAINT equity_redemption_resolved CHECK (resolution <> ''),
    declarer     text NOT NULL,
    declare_time timestamptz NOT NULL
);

-- One member's part.
CREATE TABLE equity_redeemed (
    part       uuid CONSTRAINT equity_redeemed_pk PRIMARY KEY,
    redemption uuid NOT NULL REFERENCES equity_redemption,
    member     text NOT NULL,
    crop_year  integer NOT NULL,
    amount     bigint NOT NULL CONSTRAINT equity_redeemed_something CHECK (amount > 0),
    CONSTRAINT equity_redeemed_once UNIQUE (redemption, member)
);
CREATE INDEX equity_redeemed_by_member ON equity_redeemed (member, crop_year);
