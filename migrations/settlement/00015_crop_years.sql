-- Notices of one crop year, and of which crop years payments were.

-- +goose Up

-- A notice may name one crop year; 0 is all of them.
ALTER TABLE encumbrance ADD COLUMN crop_year integer NOT NULL DEFAULT 0 CONSTRAINT encumbrance_crop_year_possible CHECK (crop_year = 0 OR crop_year BETWEEN 2000 AND 2100);

-- What left a member's balance with a payment, by crop year: a batch pays a member's whole balance, so it takes all that stood then,
-- of every crop year. source is the batch, or the payment that brought one back, which has its amount with the sign turned. Batches of
-- an earlier release have no rows; what they paid came off the oldest crop years.
CREATE TABLE payment_year (
    source    uuid NOT NULL,
    member    text NOT NULL,
    crop_year integer NOT NULL, -- 0 for what is of no crop year: charges, refunds, loans
    amount    bigint NOT NULL,
    CONSTRAINT payment_year_pk PRIMARY KEY (source, member, crop_year)
);
CREATE INDEX payment_year_by_member ON payment_year (member);

-- What stands of each crop year: credits less what payments took.
CREATE VIEW member_year AS
SELECT member, crop_year, sum(amount)::bigint AS amount FROM (
    SELECT member, crop_year, net_amount AS amount FROM payout
    UNION ALL SELECT member, crop_year, amount FROM equity_redeemed
    UNION ALL SELECT member, crop_year, amount FROM equity_correction
    UNION ALL SELECT member, 0, amount FROM member_entry
    UNION ALL SELECT member, crop_year, -amount FROM payment_year) m
GROUP BY member, crop_year HAVING sum(amount) <> 0;
