-- Who is paid, where to, and what was paid.

-- +goose Up

CREATE TABLE payee_account (
    account        uuid CONSTRAINT payee_account_pk PRIMARY KEY,
    place          bigint GENERATED ALWAYS AS IDENTITY,
    payee          text NOT NULL,
    holder         text NOT NULL,
    routing_number text NOT NULL,
    account_number text NOT NULL,
    savings        boolean NOT NULL,
    iban           text NOT NULL,
    enterer        text NOT NULL,
    enter_time     timestamptz NOT NULL,
    usable_from    date NOT NULL
);
CREATE INDEX payee_account_newest ON payee_account (payee, place DESC);

CREATE TABLE payee_verification (
    account      uuid CONSTRAINT payee_verification_once PRIMARY KEY REFERENCES payee_account,
    verifier     text NOT NULL,
    verification text NOT NULL,
    verify_time  timestamptz NOT NULL
);

CREATE TABLE encumbrance (
    encumbrance   uuid CONSTRAINT encumbrance_pk PRIMARY KEY,
    place         bigint GENERATED ALWAYS AS IDENTITY,
    member        text NOT NULL,
    kind          smallint NOT NULL CONSTRAINT encumbrance_kind_known CHECK (kind BETWEEN 1 AND 4),
    creditor      text NOT NULL,
    percent       bigint NOT NULL CONSTRAINT encumbrance_percent_possible CHECK (percent > 0 AND percent <= 10000),
    most          bigint NOT NULL, -- 0 for no limit
    document      text NOT NULL,
    receive_date  date NOT NULL,
    expire_date   date,
    unresolved    boolean NOT NULL,
    registrar     text NOT NULL,
    register_time timestamptz NOT NULL
);
CREATE INDEX encumbrance_by_member ON encumbrance (member, place DESC);

CREATE TABLE encumbrance_end (
    encumbrance uuid CONSTRAINT encumbrance_end_once PRIMARY KEY REFERENCES encumbrance,
    ender       text NOT NULL,
    document    text NOT NULL,
    end_time    timestamptz NOT NULL
);

CREATE TABLE payment_batch (
    batch        uuid CONSTRAINT payment_batch_pk PRIMARY KEY,
    place        bigint GENERATED ALWAYS AS IDENTITY,
    number       text NOT NULL CONSTRAINT payment_batch_number_unique UNIQUE,
    pay_date     date NOT NULL,
    minimum      bigint NOT NULL,
    fingerprint  text NOT NULL,
    prepared     bytea NOT NULL,
    preparer     text NOT NULL,
    prepare_time timestamptz NOT NULL
);

CREATE TABLE payment_release (
    batch        uuid CONSTRAINT payment_release_once PRIMARY KEY REFERENCES payment_batch,
    outcome      bytea NOT NULL,
    releaser     text NOT NULL,
    release_time timestamptz NOT NULL
);

-- Positive for money that left, negative for what the bank returned.
CREATE TABLE payment (
    payment       uuid CONSTRAINT payment_pk PRIMARY KEY,
    place         bigint GENERATED ALWAYS AS IDENTITY,
    batch         uuid NOT NULL REFERENCES payment_release,
    trace         integer NOT NULL,
    member        text NOT NULL,
    payee         text NOT NULL,
    paid_to       text NOT NULL,
    account       uuid NOT NULL REFERENCES payee_account,
    ending        text NOT NULL,
    amount        bigint NOT NULL,
    explanation   text NOT NULL,
    returns       uuid CONSTRAINT payment_returned_once UNIQUE REFERENCES payment,
    pay_date      date NOT NULL,
    payment_time  timestamptz NOT NULL,
    CONSTRAINT payment_sign CHECK ((amount > 0) = (returns IS NULL) AND amount <> 0)
);
CREATE INDEX payment_by_member ON payment (member, place);
CREATE INDEX payment_by_batch ON payment (batch, trace);

-- A file is handed out once; the hash says which one it was.
CREATE TABLE payment_export (
    batch       uuid CONSTRAINT payment_export_once PRIMARY KEY REFERENCES payment_release,
    format      smallint NOT NULL,
    sha256      text NOT NULL,
    exporter    text NOT NULL,
    export_time timestamptz NOT NULL
);
