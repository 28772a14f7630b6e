-- +goose Up

-- From intake: what the live ticket of a barrel claims of its honey, in lower case.
CREATE TABLE barrel_claim (
    barrel   uuid NOT NULL,
    claim    text NOT NULL,
    evidence text NOT NULL,
    ticket   uuid NOT NULL,
    PRIMARY KEY (barrel, claim)
);
CREATE INDEX barrel_claim_by_claim ON barrel_claim (claim);

-- Records, of the barrel that was delivered; the latest counts.
CREATE TABLE claim_test (
    claim_test  uuid PRIMARY KEY,
    number      bigint GENERATED ALWAYS AS IDENTITY CONSTRAINT claim_test_number UNIQUE,
    barrel      uuid NOT NULL,
    claim       text NOT NULL,
    outcome     text NOT NULL CONSTRAINT claim_test_outcome CHECK (outcome IN ('SUPPORTS', 'CONTRADICTS')),
    report      text NOT NULL,
    method      text NOT NULL,
    recorder    text NOT NULL,
    record_time timestamptz NOT NULL
);
CREATE INDEX claim_test_by_barrel ON claim_test (barrel, claim, number);

CREATE TABLE claim_approval (
    claim_approval uuid PRIMARY KEY,
    number         bigint GENERATED ALWAYS AS IDENTITY CONSTRAINT claim_approval_number UNIQUE,
    barrel         uuid NOT NULL,
    claim          text NOT NULL,
    evidence       text NOT NULL,
    ticket         uuid NOT NULL,
    approver       text NOT NULL,
    approve_time   timestamptz NOT NULL
);
CREATE INDEX claim_approval_by_barrel ON claim_approval (barrel, claim, number);

CREATE TABLE claim_withdrawal (
    claim_approval uuid PRIMARY KEY REFERENCES claim_approval,
    withdrawer     text NOT NULL,
    reason         text NOT NULL,
    withdraw_time  timestamptz NOT NULL
);

-- Claims a label prints that are certified for every barrel under it.
ALTER TABLE label ADD COLUMN certified_claims text[] NOT NULL DEFAULT '{}';

-- +goose StatementBegin
DO $$
DECLARE
    app text := quote_ident(current_schema() || '_app');
BEGIN
    EXECUTE 'GRANT UPDATE, DELETE ON barrel_claim TO ' || app;
END
$$;
-- +goose StatementEnd
