-- +goose Up

-- Read tables, one fact each, filled from the neighbours' feeds and rebuilt from zero at will. Each is written by one
-- feed only, and what a reader sees is joined when it is read: so neither the order in which the two feeds arrive nor two
-- appliers at work at the same moment can change the outcome.

-- From intake: one barrel, by its live ticket.
CREATE TABLE barrel (
    barrel       uuid PRIMARY KEY,
    ticket       uuid NOT NULL,
    member       text NOT NULL,
    drum_tag     text NOT NULL,
    net          bigint NOT NULL, -- thousandths of the cooperative's unit
    variety      text NOT NULL,
    crop_year    integer NOT NULL,
    receive_date date NOT NULL,
    withdrawn    boolean NOT NULL
);
CREATE INDEX barrel_by_age ON barrel (receive_date, barrel);
CREATE INDEX barrel_by_ticket ON barrel (ticket);
CREATE INDEX barrel_by_member ON barrel (member);

-- From intake: which barrel a blind sample was drawn from. Never leaves this service.
CREATE TABLE sample (
    sample text PRIMARY KEY,
    barrel uuid NOT NULL
);
CREATE INDEX sample_by_barrel ON sample (barrel);

-- From grading: the certificate that stands for a blind sample.
CREATE TABLE certificate (
    sample      text PRIMARY KEY,
    certificate text NOT NULL,
    grade       text NOT NULL,
    color_class text NOT NULL,
    moisture    bigint, -- hundredths of a percent
    pfund       bigint, -- hundredths of a millimetre
    issue_time  timestamptz NOT NULL
);

-- Records.

CREATE TABLE movement (
    movement      uuid PRIMARY KEY,
    barrel        uuid NOT NULL,
    number        bigint NOT NULL CHECK (number > 0),
    from_location text NOT NULL,
    to_location   text NOT NULL,
    mover         text NOT NULL,
    move_time     timestamptz NOT NULL,
    CONSTRAINT movement_number UNIQUE (barrel, number)
);

CREATE TABLE hold (
    hold       uuid PRIMARY KEY,
    barrel     uuid NOT NULL,
    code       text NOT NULL,
    reason     text NOT NULL,
    placer     text NOT NULL,
    place_time timestamptz NOT NULL
);
CREATE INDEX hold_by_barrel ON hold (barrel);
CREATE INDEX hold_by_time ON hold (place_time, hold);

CREATE TABLE hold_release (
    hold         uuid PRIMARY KEY REFERENCES hold,
    releaser     text NOT NULL,
    reason       text NOT NULL,
    release_time timestamptz NOT NULL
);

-- Where a barrel stands by its last movement. The row is also what moves and holds of one barrel lock, and it outlives a
-- rebuild of the read tables.
CREATE TABLE standing (
    barrel   uuid PRIMARY KEY,
    location text NOT NULL,
    moves    bigint NOT NULL
);

-- +goose StatementBegin
DO $$
DECLARE
    app text := quote_ident(current_schema() || '_app');
BEGIN
    EXECUTE 'GRANT UPDATE, DELETE ON barrel, sample, certificate TO ' || app;
    EXECUTE 'GRANT UPDATE (location, moves) ON standing TO ' || app;
END
$$;
-- +goose StatementEnd
