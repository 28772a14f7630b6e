-- Barrels of several owners, corrected weights, results and weights in doubt, and fees of appeals.

-- +goose Up

-- share is the member's part in ten-thousandths of a percent; net and payable are those of the part. weighing says which
-- correction of the ticket's weight the payout rests on. A fee is for an appeal and needs no schedule.
ALTER TABLE payout
    ADD COLUMN share bigint NOT NULL DEFAULT 1000000 CONSTRAINT payout_share_possible CHECK (share BETWEEN 1 AND 1000000),
    ADD COLUMN weighing text NOT NULL DEFAULT '',
    ADD COLUMN appeal uuid,
    ALTER COLUMN schedule DROP NOT NULL,
    DROP CONSTRAINT payout_kind_known,
    ADD CONSTRAINT payout_kind_known CHECK (kind BETWEEN 1 AND 4),
    ADD CONSTRAINT payout_priced_by_a_schedule CHECK (schedule IS NOT NULL OR appeal IS NOT NULL),
    ADD CONSTRAINT payout_fee_names_its_appeal CHECK (kind <> 4 OR appeal IS NOT NULL);
DROP INDEX payout_once;
CREATE UNIQUE INDEX payout_once ON payout (barrel, certificate, ticket, kind, member, weighing) WHERE kind NOT IN (2, 4);
CREATE UNIQUE INDEX payout_fee_once ON payout (appeal, member) WHERE kind = 4;

ALTER TABLE payout_line ADD COLUMN odd boolean NOT NULL DEFAULT false;

-- Each owner has at most one advance and one final of a barrel.
ALTER TABLE standing_advance ADD COLUMN member text;
UPDATE standing_advance a SET member = p.member FROM payout p WHERE p.payout = a.payout;
ALTER TABLE standing_advance ALTER COLUMN member SET NOT NULL, DROP CONSTRAINT standing_advance_pk,
    ADD CONSTRAINT standing_advance_pk PRIMARY KEY (barrel, member);
ALTER TABLE standing_final ADD COLUMN member text;
UPDATE standing_final f SET member = p.member FROM payout p WHERE p.payout = f.payout;
ALTER TABLE standing_final ALTER COLUMN member SET NOT NULL, DROP CONSTRAINT standing_final_pk,
    ADD CONSTRAINT standing_final_pk PRIMARY KEY (barrel, member);

-- owners and shares belong together by place, by member number; empty where member owns all of it.
ALTER TABLE intake_barrel
    ADD COLUMN owners text[] NOT NULL DEFAULT '{}',
    ADD COLUMN shares bigint[] NOT NULL DEFAULT '{}',
    ADD CONSTRAINT intake_barrel_shares_whole CHECK (cardinality(owners) = cardinality(shares));
CREATE INDEX intake_barrel_by_owner ON intake_barrel USING gin (owners) WHERE owners <> '{}';

-- From intake: what corrects the net weight of the ticket. A later re-weigh takes the place of an earlier one.
CREATE TABLE intake_reweigh (
    barrel     uuid CONSTRAINT intake_reweigh_pk PRIMARY KEY,
    reweigh    text NOT NULL,
    correction bigint NOT NULL,
    words      text NOT NULL
);
CREATE TABLE intake_tare (
    barrel     uuid CONSTRAINT intake_tare_pk PRIMARY KEY,
    correction bigint NOT NULL,
    words      text NOT NULL
);

-- From intake: barrels whose weight nobody vouches for until the review of the scale is decided.
CREATE TABLE intake_doubt (
    review uuid NOT NULL,
    barrel uuid NOT NULL,
    words  text NOT NULL,
    open   boolean NOT NULL,
    CONSTRAINT intake_doubt_pk PRIMARY KEY (review, barrel)
);
CREATE INDEX intake_doubt_open ON intake_doubt (barrel) WHERE open;

-- From grading: certificates that rest on results since the last good control.
CREATE TABLE grading_doubt (
    control     text NOT NULL,
    certificate uuid NOT NULL,
    words       text NOT NULL,
    open        boolean NOT NULL,
    CONSTRAINT grading_doubt_pk PRIMARY KEY (control, certificate)
);
CREATE INDEX grading_doubt_open ON grading_doubt (certificate) WHERE open;

-- From grading: referees' fees that the member who appealed bears.
CREATE TABLE grading_fee (
    appeal      uuid CONSTRAINT grading_fee_pk PRIMARY KEY,
    sample      text NOT NULL,
    certificate uuid NOT NULL,
    words       text NOT NULL
);
CREATE INDEX grading_fee_by_sample ON grading_fee (sample);

GRANT UPDATE, DELETE ON intake_reweigh, intake_tare, intake_doubt, grading_doubt, grading_fee TO settlement_app;
