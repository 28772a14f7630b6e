-- Part-payments between the advance and the final, and unsold honey carried over from one pool to another.

-- +goose Up

CREATE TABLE progress_payment (
    progress     uuid CONSTRAINT progress_payment_pk PRIMARY KEY,
    place        bigint GENERATED ALWAYS AS IDENTITY,
    pool         uuid NOT NULL REFERENCES pool,
    rate         bigint NOT NULL CONSTRAINT progress_payment_rate_positive CHECK (rate > 0),
    proposer     text NOT NULL,
    propose_time timestamptz NOT NULL
);
CREATE INDEX progress_payment_by_pool ON progress_payment (pool, place);

-- The board's word, and what it came to on the day.
CREATE TABLE progress_adoption (
    progress   uuid CONSTRAINT progress_adopted_once PRIMARY KEY REFERENCES progress_payment,
    resolution text NOT NULL CONSTRAINT progress_adoption_resolved CHECK (resolution <> ''),
    adopter    text NOT NULL,
    adopt_time timestamptz NOT NULL,
    barrels    integer NOT NULL,
    payable    bigint NOT NULL,
    amount     bigint NOT NULL,
    credited   bigint NOT NULL
);

ALTER TABLE payout
    ADD COLUMN progress uuid REFERENCES progress_payment,
    DROP CONSTRAINT payout_kind_known, ADD CONSTRAINT payout_kind_known CHECK (kind BETWEEN 1 AND 5),
    ADD CONSTRAINT payout_progress_is_named CHECK (kind <> 5 OR progress IS NOT NULL);
DROP INDEX payout_once;
CREATE UNIQUE INDEX payout_once ON payout (barrel, certificate, ticket, kind, member, weighing) WHERE kind NOT IN (2, 4, 5);
CREATE UNIQUE INDEX payout_progress_once ON payout (progress, barrel, certificate, ticket, member, weighing) WHERE kind = 5;

-- The progress payments each advance has beside it now. What an advance has credited, standing_advance.gross_amount, has them in
-- it: a closing takes both off.
CREATE TABLE standing_progress (
    barrel uuid NOT NULL,
    member text NOT NULL,
    payout uuid CONSTRAINT standing_progress_pk PRIMARY KEY REFERENCES payout,
    amount bigint NOT NULL
);
CREATE INDEX standing_progress_by_barrel ON standing_progress (barrel, member);
GRANT DELETE ON standing_progress TO settlement_app;
GRANT UPDATE (gross_amount) ON standing_advance TO settlement_app;

ALTER TABLE pool_entry ADD COLUMN counter uuid REFERENCES pool;
