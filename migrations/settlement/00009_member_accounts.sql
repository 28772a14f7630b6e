-- What stands between the cooperative and one member beside the pay for barrels: loans, charges, capital of more than one
-- class, statements on paper and questions. Amounts are minor units, percents hundredths.

-- +goose Up

CREATE TABLE loan (
    loan         uuid CONSTRAINT loan_pk PRIMARY KEY,
    place        bigint GENERATED ALWAYS AS IDENTITY,
    number       text NOT NULL CONSTRAINT loan_number_unique UNIQUE,
    member       text NOT NULL,
    purpose      smallint NOT NULL CONSTRAINT loan_purpose_known CHECK (purpose BETWEEN 1 AND 3),
    principal    bigint NOT NULL CONSTRAINT loan_principal_something CHECK (principal > 0),
    annual_rate  bigint NOT NULL CONSTRAINT loan_rate_possible CHECK (annual_rate BETWEEN 0 AND 3600),
    day_count    smallint NOT NULL CONSTRAINT loan_day_count_known CHECK (day_count IN (1, 2)),
    deduction    bigint NOT NULL CONSTRAINT loan_deduction_possible CHECK (deduction BETWEEN 0 AND 10000),
    authority    text NOT NULL,
    proposer     text NOT NULL,
    propose_time timestamptz NOT NULL
);
CREATE INDEX loan_by_member ON loan (member, place DESC);

CREATE TABLE loan_approval (
    loan         uuid CONSTRAINT loan_approval_once PRIMARY KEY REFERENCES loan,
    start_date   date NOT NULL,
    resolution   text NOT NULL,
    approver     text NOT NULL,
    approve_time timestamptz NOT NULL
);

-- batch is set on what a payment batch took from the member's balance.
CREATE TABLE loan_entry (
    entry       uuid CONSTRAINT loan_entry_pk PRIMARY KEY,
    place       bigint GENERATED ALWAYS AS IDENTITY,
    loan        uuid NOT NULL REFERENCES loan_approval,
    kind        smallint NOT NULL CONSTRAINT loan_entry_kind_known CHECK (kind BETWEEN 1 AND 4),
    interest    bigint NOT NULL,
    principal   bigint NOT NULL,
    entry_date  date NOT NULL,
    document    text NOT NULL,
    batch       uuid REFERENCES payment_release,
    recorder    text NOT NULL,
    record_time timestamptz NOT NULL,
    CONSTRAINT loan_entry_something CHECK (interest <> 0 OR principal <> 0)
);
CREATE INDEX loan_entry_in_order ON loan_entry (loan, place);
CREATE UNIQUE INDEX loan_entry_once_a_batch ON loan_entry (loan, batch) WHERE kind = 3;

-- Everything on a member's account beside payouts, redemptions and payments, positive for what is owed to the member. Kinds 1
-- to 5 are charges, 6 is taken for a loan, 7 an over-advance turned into a loan, 8 a patronage refund in money.
CREATE TABLE member_entry (
    entry         uuid CONSTRAINT member_entry_pk PRIMARY KEY,
    place         bigint GENERATED ALWAYS AS IDENTITY,
    member        text NOT NULL,
    kind          smallint NOT NULL CONSTRAINT member_entry_kind_known CHECK (kind BETWEEN 1 AND 8),
    amount        bigint NOT NULL CONSTRAINT member_entry_something CHECK (amount <> 0),
    description   text NOT NULL,
    authority     text NOT NULL,
    calculation   text NOT NULL,
    entry_date    date NOT NULL,
    ticket_number text NOT NULL,
    recorder      text NOT NULL,
    record_time   timestamptz NOT NULL
);
CREATE INDEX member_entry_by_member ON member_entry (member, place DESC);
CREATE UNIQUE INDEX member_entry_hauled_once ON member_entry (ticket_number, member) WHERE ticket_number <> '';

CREATE TABLE hauling_rate (
    zone           text NOT NULL,
    effective_date date NOT NULL,
    rate           bigint NOT NULL CONSTRAINT hauling_rate_possible CHECK (rate >= 0),
    resolution     text NOT NULL,
    setter         text NOT NULL,
    set_time       timestamptz NOT NULL,
    CONSTRAINT hauling_rate_once PRIMARY KEY (zone, effective_date)
);

CREATE TABLE retain_designation (
    crop_year    integer CONSTRAINT retain_designation_once PRIMARY KEY,
    qualified    boolean NOT NULL,
    consent      text NOT NULL,
    resolution   text NOT NULL,
    declarer     text NOT NULL,
    declare_time timestamptz NOT NULL,
    CONSTRAINT retain_designation_consented CHECK (NOT qualified OR consent <> '')
);

CREATE TABLE patronage_refund (
    refund          uuid CONSTRAINT patronage_refund_pk PRIMARY KEY,
    place           bigint GENERATED ALWAYS AS IDENTITY,
    crop_year       integer NOT NULL,
    fiscal_year_end date NOT NULL,
    total           bigint NOT NULL CONSTRAINT patronage_refund_something CHECK (total > 0),
    cash_percent    bigint NOT NULL CONSTRAINT patronage_refund_percent_possible CHECK (cash_percent BETWEEN 0 AND 10000),
    qualified       boolean NOT NULL,
    consent         text NOT NULL,
    resolution      text NOT NULL,
    declarer        text NOT NULL,
    declare_time    timestamptz NOT NULL,
    declare_date    date NOT NULL,
    CONSTRAINT patronage_refund_qualified CHECK (NOT qualified OR consent <> '' AND cash_percent >= 2000)
);

-- odd says who got an odd cent.
CREATE TABLE patronage_part (
    refund uuid NOT NULL REFERENCES patronage_refund,
    member text NOT NULL,
    cash   bigint NOT NULL CONSTRAINT patronage_cash_possible CHECK (cash >= 0),
    notice bigint NOT NULL CONSTRAINT patronage_notice_possible CHECK (notice >= 0),
    odd    boolean NOT NULL,
    CONSTRAINT patronage_part_once PRIMARY KEY (refund, member)
);
CREATE INDEX patronage_part_by_member ON patronage_part (member);

-- class is that of the wire; 1 stands for a retain, whatever the board says about its crop year.
ALTER TABLE equity_redemption ADD COLUMN estate text NOT NULL DEFAULT '';
ALTER TABLE equity_redeemed ADD COLUMN class smallint NOT NULL DEFAULT 1 CONSTRAINT equity_redeemed_class_known CHECK (class IN (1, 4, 5)),
    DROP CONSTRAINT equity_redeemed_once, ADD CONSTRAINT equity_redeemed_once UNIQUE (redemption, member, class);

ALTER TABLE encumbrance DROP CONSTRAINT encumbrance_kind_known, ADD CONSTRAINT encumbrance_kind_known CHECK (kind BETWEEN 1 AND 6);

-- Everything a member is owed or was paid. source is that of the journal entry.
CREATE VIEW member_movement AS
    SELECT member, net_amount AS amount, 'payouts/' || payout AS source FROM payout
    UNION ALL SELECT member, amount, 'redeemed/' || part FROM equity_redeemed
    UNION ALL SELECT member, amount, 'memberEntries/' || entry FROM member_entry
    UNION ALL SELECT member, -amount, 'payments/' || payment FROM payment;

CREATE TABLE statement_issue (
    member     text NOT NULL,
    crop_year  integer NOT NULL,
    serial     integer NOT NULL CONSTRAINT statement_issue_serial_positive CHECK (serial > 0),
    code       text NOT NULL CONSTRAINT statement_issue_code_whole CHECK (length(code) = 16),
    balance    bigint NOT NULL,
    issue_time timestamptz NOT NULL,
    CONSTRAINT statement_issue_pk PRIMARY KEY (member, crop_year, serial)
);
CREATE INDEX statement_issue_by_code ON statement_issue (code);

CREATE TABLE dispute (
    dispute  uuid CONSTRAINT dispute_pk PRIMARY KEY,
    place    bigint GENERATED ALWAYS AS IDENTITY,
    number   text NOT NULL CONSTRAINT dispute_number_unique UNIQUE,
    member   text NOT NULL,
    payout   uuid NOT NULL REFERENCES payout,
    line     integer NOT NULL CONSTRAINT dispute_line_possible CHECK (line >= 0),
    question text NOT NULL,
    asker    text NOT NULL,
    ask_time timestamptz NOT NULL,
    due_date date NOT NULL
);
CREATE INDEX dispute_by_member ON dispute (member, place);

CREATE TABLE dispute_answer (
    dispute     uuid CONSTRAINT dispute_answer_once PRIMARY KEY REFERENCES dispute,
    answer      text NOT NULL,
    outcome     smallint NOT NULL CONSTRAINT dispute_outcome_known CHECK (outcome BETWEEN 1 AND 3),
    answerer    text NOT NULL,
    answer_time timestamptz NOT NULL
);
