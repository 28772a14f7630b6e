-- Price schedules, payouts with their lines, and what settlement keeps of its neighbours' facts.

-- +goose Up

-- Rows and charges are documents because a schedule is drafted whole, read whole and never changed.
CREATE TABLE schedule (
    schedule       uuid CONSTRAINT schedule_pk PRIMARY KEY,
    crop_year      integer NOT NULL,
    version        integer NOT NULL CONSTRAINT schedule_version_positive CHECK (version > 0),
    effective_date date NOT NULL,
    moisture_base  bigint NOT NULL, -- hundredths of a percent
    moisture_step  bigint NOT NULL, -- millionths of the currency per unit of mass, each 0.1 %
    price_rows     jsonb NOT NULL,
    charges        jsonb NOT NULL,
    drafter        text NOT NULL,
    draft_time     timestamptz NOT NULL,
    CONSTRAINT schedule_version_once UNIQUE (crop_year, version)
);

-- A schedule with a row here prices. The board's word is a record of its own, so the draft stays as it was written.
CREATE TABLE schedule_adoption (
    schedule       uuid CONSTRAINT schedule_adoption_pk PRIMARY KEY REFERENCES schedule,
    crop_year      integer NOT NULL,
    effective_date date NOT NULL,
    resolution     text NOT NULL CONSTRAINT schedule_adoption_resolved CHECK (resolution <> ''),
    adopter        text NOT NULL,
    adopt_time     timestamptz NOT NULL,
    CONSTRAINT schedule_starts_once UNIQUE (crop_year, effective_date)
);

-- Amounts are minor units of the currency, weights thousandths of the unit of mass.
CREATE TABLE payout (
    payout             uuid CONSTRAINT payout_pk PRIMARY KEY,
    number             bigint GENERATED ALWAYS AS IDENTITY CONSTRAINT payout_number_unique UNIQUE,
    kind               smallint NOT NULL CONSTRAINT payout_kind_known CHECK (kind IN (1, 2, 3)),
    member             text NOT NULL,
    barrel             uuid NOT NULL,
    drum_tag           text NOT NULL,
    variety            text NOT NULL,
    ticket             uuid NOT NULL,
    ticket_number      text NOT NULL,
    certificate        uuid NOT NULL,
    certificate_number text NOT NULL,
    color_class        text NOT NULL,
    grade              text NOT NULL,
    schedule           uuid NOT NULL REFERENCES schedule,
    run                uuid, -- the settlement run of a final
    delivery_date      date NOT NULL,
    crop_year          integer NOT NULL,
    net                bigint NOT NULL,
    payable            bigint NOT NULL CONSTRAINT payout_payable_within_net CHECK (payable BETWEEN 0 AND net),
    gross_amount       bigint NOT NULL,
    net_amount         bigint NOT NULL,
    reverses           uuid CONSTRAINT payout_reversed_once UNIQUE REFERENCES payout,
    reason             text NOT NULL,
    headline           text NOT NULL,
    price_time         timestamptz NOT NULL,
    CONSTRAINT payout_reversal_names_its_payout CHECK ((kind = 2) = (reverses IS NOT NULL))
);
-- What is paid once for a barrel, by its ticket and certificate. A reversal is unique by what it reverses.
CREATE UNIQUE INDEX payout_once ON payout (barrel, certificate, ticket, kind) WHERE kind <> 2;
CREATE INDEX payout_by_member ON payout (member, number DESC);

CREATE TABLE payout_line (
    payout      uuid NOT NULL REFERENCES payout,
    line        smallint NOT NULL CONSTRAINT payout_line_positive CHECK (line > 0),
    kind        smallint NOT NULL,
    code        text NOT NULL,
    description text NOT NULL,
    quantity    bigint,
    rate        bigint,
    amount      bigint NOT NULL,
    explanation jsonb NOT NULL,
    CONSTRAINT payout_line_pk PRIMARY KEY (payout, line)
);

-- The advance each barrel has now. It follows from the payouts, and its key is what keeps a barrel from having two.
CREATE TABLE standing_advance (
    barrel uuid CONSTRAINT standing_advance_pk PRIMARY KEY,
    payout uuid NOT NULL CONSTRAINT standing_advance_payout_unique UNIQUE REFERENCES payout
);

-- One row: whoever decides about payouts locks it first. Three feeds and the office each see only part of a barrel's
-- facts at a time; taking turns, the last of them sees all.
CREATE TABLE pricing_gate (
    single boolean NOT NULL DEFAULT true CONSTRAINT pricing_gate_pk PRIMARY KEY CONSTRAINT pricing_gate_single CHECK (single)
);
INSERT INTO pricing_gate DEFAULT VALUES;

-- Read tables: one fact each, written by one feed only, rebuilt from zero at will.

-- From intake.
CREATE TABLE intake_member (
    member       text CONSTRAINT intake_member_pk PRIMARY KEY,
    display_name text NOT NULL
);

-- From intake: a barrel by its live ticket. counts is false once no closed ticket carries it.
CREATE TABLE intake_barrel (
    barrel        uuid CONSTRAINT intake_barrel_pk PRIMARY KEY,
    ticket        uuid NOT NULL,
    ticket_number text NOT NULL,
    member        text NOT NULL,
    drum_tag      text NOT NULL,
    variety       text NOT NULL,
    net           bigint NOT NULL,
    crop_year     integer NOT NULL,
    delivery_date date NOT NULL,
    counts        boolean NOT NULL
);
CREATE INDEX intake_barrel_by_ticket ON intake_barrel (ticket);
CREATE INDEX intake_barrel_by_member ON intake_barrel (member);
CREATE INDEX intake_barrel_by_age ON intake_barrel (delivery_date, barrel) WHERE counts;

-- From intake: which barrel a blind sample was drawn from. It never leaves this service.
CREATE TABLE intake_sample (
    sample text CONSTRAINT intake_sample_pk PRIMARY KEY,
    barrel uuid NOT NULL
);
CREATE INDEX intake_sample_by_barrel ON intake_sample (barrel);

-- From grading: every certificate, the replaced ones too.
CREATE TABLE grading_certificate (
    certificate   uuid CONSTRAINT grading_certificate_pk PRIMARY KEY,
    sample        text NOT NULL,
    number        text NOT NULL,
    grade         text NOT NULL,
    color_class   text NOT NULL,
    moisture      bigint NOT NULL, -- hundredths of a percent; 0 when it states none
    readings      text[] NOT NULL,
    issue_time    timestamptz NOT NULL,
    reason        text NOT NULL,
    superseded_by uuid
);
CREATE INDEX grading_certificate_by_sample ON grading_certificate (sample);

-- From inventory.
CREATE TABLE inventory_hold (
    hold       uuid CONSTRAINT inventory_hold_pk PRIMARY KEY,
    barrel     uuid NOT NULL,
    code       text NOT NULL,
    place_time timestamptz NOT NULL,
    released   boolean NOT NULL
);
CREATE INDEX inventory_hold_open ON inventory_hold (barrel) WHERE NOT released;

GRANT DELETE ON standing_advance TO settlement_app;
GRANT UPDATE ON pricing_gate TO settlement_app;
GRANT UPDATE, DELETE ON intake_member, intake_barrel, intake_sample, grading_certificate, inventory_hold TO settlement_app;
