-- Barrels that were not taken in, and the containers a member has out.

-- +goose Up

-- A rejected barrel is on the ticket for custody only; it has no weight.
CREATE TABLE rejected_barrel (
    id           uuid CONSTRAINT rejected_barrel_pk PRIMARY KEY,
    ticket       uuid NOT NULL CONSTRAINT rejected_barrel_on_ticket REFERENCES ticket,
    drum_tag     text COLLATE "C" NOT NULL,
    reason       text NOT NULL,
    note         text NOT NULL,
    photo_sha256 text NOT NULL,
    rejecter     text NOT NULL,
    reject_time  timestamptz NOT NULL
);
CREATE INDEX rejected_barrel_by_ticket ON rejected_barrel (ticket, reject_time, id);

CREATE TABLE rejected_barrel_exit (
    barrel    uuid CONSTRAINT rejected_barrel_exit_pk PRIMARY KEY CONSTRAINT rejected_barrel_exit_of_barrel REFERENCES rejected_barrel,
    fate      text NOT NULL CONSTRAINT rejected_barrel_fate_known CHECK (fate IN ('COLLECTED', 'DISPOSED')),
    note      text NOT NULL CONSTRAINT rejected_barrel_exit_says_how CHECK (note <> ''),
    recorder  text NOT NULL,
    exit_time timestamptz NOT NULL
);

CREATE TABLE container_move (
    id        bigint GENERATED ALWAYS AS IDENTITY CONSTRAINT container_move_pk PRIMARY KEY,
    member    text COLLATE "C" NOT NULL CONSTRAINT container_move_of_member REFERENCES member,
    container text NOT NULL,
    kind      text NOT NULL CONSTRAINT container_move_kind_known CHECK (kind IN ('GIVEN_OUT', 'BACK_FULL', 'BACK_EMPTY', 'LOST')),
    count     integer NOT NULL CONSTRAINT container_move_count_positive CHECK (count BETWEEN 1 AND 10000),
    note      text NOT NULL,
    recorder  text NOT NULL,
    move_time timestamptz NOT NULL
);
CREATE INDEX container_move_by_member ON container_move (member, id);
