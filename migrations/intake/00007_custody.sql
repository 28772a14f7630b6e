-- Where each portion of a sample was, and whose hands it went through.

-- +goose Up

-- gap says why the chain is broken at this event; empty where it holds.
CREATE TABLE custody_event (
    sample      text COLLATE "C" NOT NULL CONSTRAINT custody_event_of_sample REFERENCES sample,
    portion     text NOT NULL CONSTRAINT custody_event_portion_known CHECK (portion IN ('A', 'B', 'C')),
    ordinal     integer NOT NULL CONSTRAINT custody_event_from_one CHECK (ordinal >= 1),
    kind        text NOT NULL CONSTRAINT custody_event_kind_known
        CHECK (kind IN ('SEALED', 'MOVED', 'RECEIVED', 'OPENED', 'STORED', 'DISCARDED')),
    place       text NOT NULL,
    seal        text NOT NULL,
    expire_date date,
    note        text NOT NULL,
    gap         text NOT NULL,
    actor       text NOT NULL,
    event_time  timestamptz NOT NULL,
    record_time timestamptz NOT NULL,
    CONSTRAINT custody_event_pk PRIMARY KEY (sample, portion, ordinal),
    CONSTRAINT custody_event_sealed_has_seal CHECK (kind <> 'SEALED' OR (seal <> '' AND expire_date IS NOT NULL))
);
CREATE UNIQUE INDEX custody_seal_once ON custody_event (seal) WHERE kind = 'SEALED';
