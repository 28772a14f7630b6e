-- What more a receiving ticket says; class tares and container deposits, which the office lays down as dated records.

-- +goose Up

-- claims and claim_certificates are of one length; a claim without a certificate has an empty one.
ALTER TABLE ticket
    ADD COLUMN vehicle text NOT NULL DEFAULT '',
    ADD COLUMN yard_region text NOT NULL DEFAULT '',
    ADD COLUMN claims text[] NOT NULL DEFAULT '{}',
    ADD COLUMN claim_certificates text[] NOT NULL DEFAULT '{}',
    ADD COLUMN remarks text NOT NULL DEFAULT '',
    ADD CONSTRAINT ticket_claims_pair CHECK (cardinality(claims) = cardinality(claim_certificates));

-- Who signed for the delivery; none when the driver left before.
CREATE TABLE ticket_signature (
    ticket uuid CONSTRAINT ticket_signature_pk PRIMARY KEY CONSTRAINT ticket_signature_of_ticket REFERENCES ticket,
    driver text NOT NULL CONSTRAINT ticket_signature_says_who CHECK (driver <> '')
);

CREATE TABLE class_tare (
    id          bigint GENERATED ALWAYS AS IDENTITY CONSTRAINT class_tare_pk PRIMARY KEY,
    container   text NOT NULL,
    tare        bigint NOT NULL CONSTRAINT class_tare_positive CHECK (tare > 0),
    sample_size integer NOT NULL CONSTRAINT class_tare_sampled CHECK (sample_size >= 1),
    sample_date date NOT NULL,
    review_date date NOT NULL CONSTRAINT class_tare_reviewed_later CHECK (review_date > sample_date),
    note        text NOT NULL CONSTRAINT class_tare_says_where CHECK (note <> ''),
    setter      text NOT NULL,
    set_time    timestamptz NOT NULL
);
CREATE INDEX class_tare_by_container ON class_tare (container, id);

-- amount is in minor units of the cooperative's currency, for each container.
CREATE TABLE container_deposit (
    id             bigint GENERATED ALWAYS AS IDENTITY CONSTRAINT container_deposit_pk PRIMARY KEY,
    container      text NOT NULL,
    amount         bigint NOT NULL CONSTRAINT container_deposit_not_negative CHECK (amount >= 0),
    effective_date date NOT NULL,
    note           text NOT NULL CONSTRAINT container_deposit_says_why CHECK (note <> ''),
    setter         text NOT NULL,
    set_time       timestamptz NOT NULL
);
CREATE INDEX container_deposit_by_date ON container_deposit (container, effective_date, id);

-- rate is the deposit for each of those handed out; deposit what the move charges (above zero) or gives back (below zero).
ALTER TABLE container_move
    ADD COLUMN rate bigint NOT NULL DEFAULT 0,
    ADD COLUMN deposit bigint NOT NULL DEFAULT 0,
    ADD CONSTRAINT container_move_deposit_fits CHECK (rate >= 0 AND CASE kind
        WHEN 'GIVEN_OUT' THEN deposit = rate * count WHEN 'LOST' THEN rate = 0 AND deposit = 0 ELSE rate = 0 AND deposit <= 0 END);
