-- Drums as assets: what they are, whose, and what they last weighed empty.

-- +goose Up

-- The newest of drum_event and drum_release for each drum, for quick looking up.
CREATE TABLE drum_asset (
    tag           text COLLATE "C" CONSTRAINT drum_asset_pk PRIMARY KEY,
    container     text NOT NULL DEFAULT '',
    ownership     text NOT NULL DEFAULT '',
    owner         text COLLATE "C" CONSTRAINT drum_asset_owner REFERENCES member,
    register_time timestamptz,
    retire_time   timestamptz,
    retire_reason text NOT NULL DEFAULT '',
    weighed_tare  bigint,
    weighed_time  timestamptz,
    CONSTRAINT drum_asset_tare_whole CHECK ((weighed_tare IS NULL) = (weighed_time IS NULL))
);
CREATE INDEX drum_asset_by_owner ON drum_asset (owner, tag);

-- What was said of a drum, by whom and when; append-only.
CREATE TABLE drum_event (
    id         bigint GENERATED ALWAYS AS IDENTITY CONSTRAINT drum_event_pk PRIMARY KEY,
    drum_tag   text COLLATE "C" NOT NULL,
    kind       text NOT NULL CONSTRAINT drum_event_kind_known CHECK (kind IN ('REGISTERED', 'RETIRED')),
    container  text NOT NULL,
    ownership  text NOT NULL,
    owner      text COLLATE "C",
    reason     text NOT NULL,
    actor      text NOT NULL,
    event_time timestamptz NOT NULL
);
CREATE INDEX drum_event_by_drum ON drum_event (drum_tag, id);

GRANT UPDATE (container, ownership, owner, register_time, retire_time, retire_reason, weighed_tare, weighed_time) ON drum_asset TO intake_app;
