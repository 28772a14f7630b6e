-- The journal: every amount twice, once as a debit and once as a credit.

-- +goose Up

-- +goose StatementBegin
CREATE FUNCTION journal_sum(amounts bigint[]) RETURNS numeric LANGUAGE sql IMMUTABLE
    RETURN (SELECT sum(a) FROM unnest(amounts) a);
-- +goose StatementEnd

-- Debits are positive minor units. accounts and amounts belong together by place; one row holds a whole entry, so that the
-- row itself can refuse to be out of balance.
CREATE TABLE journal (
    entry       bigint GENERATED ALWAYS AS IDENTITY CONSTRAINT journal_pk PRIMARY KEY,
    source      text NOT NULL CONSTRAINT journal_once UNIQUE,
    entry_date  date NOT NULL,
    description text NOT NULL,
    accounts    text[] NOT NULL,
    amounts     bigint[] NOT NULL,
    record_time timestamptz NOT NULL,
    CONSTRAINT journal_balanced CHECK (journal_sum(amounts) = 0),
    CONSTRAINT journal_whole CHECK (cardinality(accounts) = cardinality(amounts) AND cardinality(accounts) > 0)
);
CREATE INDEX journal_by_date ON journal (entry_date, entry);
