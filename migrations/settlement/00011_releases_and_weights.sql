-- Releases of notices by both parties, corrections of capital that had been given back, and the weights and containers that
-- statements show.

-- +goose Up

-- One party's word that a right ends; party is 1 for the member and 2 for the creditor.
CREATE TABLE encumbrance_release (
    encumbrance uuid NOT NULL REFERENCES encumbrance,
    party       smallint NOT NULL CONSTRAINT encumbrance_release_party_known CHECK (party IN (1, 2)),
    signer      text NOT NULL CONSTRAINT encumbrance_release_signed CHECK (signer <> ''),
    sign_date   date NOT NULL,
    document    text NOT NULL CONSTRAINT encumbrance_release_documented CHECK (document <> ''),
    recorder    text NOT NULL,
    record_time timestamptz NOT NULL,
    CONSTRAINT encumbrance_release_once PRIMARY KEY (encumbrance, party)
);

-- Of retains only: nothing else is ever taken back. Positive for what is given back again, negative for what is owed back. payout
-- is the last of those that brought it about.
CREATE TABLE equity_correction (
    correction   uuid CONSTRAINT equity_correction_pk PRIMARY KEY,
    place        bigint GENERATED ALWAYS AS IDENTITY,
    member       text NOT NULL,
    crop_year    integer NOT NULL,
    amount       bigint NOT NULL CONSTRAINT equity_correction_something CHECK (amount <> 0),
    reason       text NOT NULL CONSTRAINT equity_correction_reasoned CHECK (reason <> ''),
    payout       uuid NOT NULL REFERENCES payout,
    correct_time timestamptz NOT NULL
);
CREATE INDEX equity_correction_by_member ON equity_correction (member, crop_year);

CREATE OR REPLACE VIEW member_movement AS
    SELECT member, net_amount AS amount, 'payouts/' || payout AS source FROM payout
    UNION ALL SELECT member, amount, 'redeemed/' || part FROM equity_redeemed
    UNION ALL SELECT member, amount, 'memberEntries/' || entry FROM member_entry
    UNION ALL SELECT member, -amount, 'payments/' || payment FROM payment
    UNION ALL SELECT member, amount, 'equityCorrections/' || correction FROM equity_correction;

-- From intake: what was on the scale. NULL where an earlier release kept the net weight only, until the read table is filled again.
ALTER TABLE intake_barrel ADD COLUMN gross bigint, ADD COLUMN tare bigint;

-- From intake: the cooperative's containers a member has out, as they stand after the latest move.
CREATE TABLE intake_container (
    member    text NOT NULL,
    container smallint NOT NULL,
    words     text NOT NULL,
    given_out bigint NOT NULL,
    came_back bigint NOT NULL,
    lost      bigint NOT NULL,
    deposit   bigint NOT NULL,
    CONSTRAINT intake_container_pk PRIMARY KEY (member, container)
);
GRANT UPDATE, DELETE ON intake_container TO settlement_app;
