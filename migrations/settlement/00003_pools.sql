-- Pools with their accounts, and the runs that close them.

-- +goose Up

CREATE TABLE pool (
    pool          uuid CONSTRAINT pool_pk PRIMARY KEY,
    number        bigint GENERATED ALWAYS AS IDENTITY,
    crop_year     integer NOT NULL,
    title         text NOT NULL,
    varieties     text[] NOT NULL,
    differentials jsonb NOT NULL,
    opener        text NOT NULL,
    open_time     timestamptz NOT NULL
);
CREATE INDEX pool_by_year ON pool (crop_year, number);

CREATE TABLE pool_entry (
    entry       uuid CONSTRAINT pool_entry_pk PRIMARY KEY,
    number      bigint GENERATED ALWAYS AS IDENTITY,
    pool        uuid NOT NULL REFERENCES pool,
    kind        smallint NOT NULL CONSTRAINT pool_entry_kind_known CHECK (kind IN (1, 2)),
    amount      bigint NOT NULL CONSTRAINT pool_entry_not_zero CHECK (amount <> 0),
    description text NOT NULL,
    document    text NOT NULL,
    entry_date  date NOT NULL,
    recorder    text NOT NULL,
    record_time timestamptz NOT NULL
);
CREATE INDEX pool_entry_in_order ON pool_entry (pool, number);

-- inputs and outcome are kept as they were fingerprinted, so that a run can be calculated again byte for byte.
CREATE TABLE settlement_run (
    run          uuid CONSTRAINT settlement_run_pk PRIMARY KEY,
    place        bigint GENERATED ALWAYS AS IDENTITY,
    number       text NOT NULL CONSTRAINT settlement_run_number_unique UNIQUE,
    pool         uuid NOT NULL REFERENCES pool,
    fingerprint  text NOT NULL CONSTRAINT settlement_run_fingerprint_whole CHECK (length(fingerprint) = 64),
    inputs       bytea NOT NULL,
    outcome      bytea NOT NULL,
    preparer     text NOT NULL,
    prepare_time timestamptz NOT NULL
);
CREATE INDEX settlement_run_by_pool ON settlement_run (pool, place DESC);

CREATE TABLE run_vote (
    run       uuid NOT NULL REFERENCES settlement_run,
    director  text NOT NULL,
    abstained boolean NOT NULL,
    minutes   text NOT NULL,
    vote_time timestamptz NOT NULL,
    CONSTRAINT run_vote_once PRIMARY KEY (run, director)
);

-- A run is released once, and a pool is closed by one run.
CREATE TABLE run_release (
    run          uuid CONSTRAINT run_release_pk PRIMARY KEY REFERENCES settlement_run,
    pool         uuid NOT NULL CONSTRAINT run_release_pool_once UNIQUE REFERENCES pool,
    releaser     text NOT NULL,
    release_time timestamptz NOT NULL
);

-- The final each barrel has now, as standing_advance is for advances.
CREATE TABLE standing_final (
    barrel uuid CONSTRAINT standing_final_pk PRIMARY KEY,
    payout uuid NOT NULL CONSTRAINT standing_final_payout_unique UNIQUE REFERENCES payout
);

GRANT DELETE ON standing_final TO settlement_app;
