-- Receiving: members, scales and their checks, tickets, weighings, samples, drums.
-- Masses are thousandths of the cooperative's unit. Weights, checks, samples and decisions are append-only; what may change
-- is granted column by column at the end.

-- +goose Up

COMMENT ON SCHEMA intake IS 'Receiving: members, scales, tickets, weighings, samples.';

CREATE TABLE member (
    number            text COLLATE "C" CONSTRAINT member_pk PRIMARY KEY,
    display_name      text NOT NULL,
    agreement_version text NOT NULL,
    join_date         date NOT NULL,
    creator           text NOT NULL,
    create_time       timestamptz NOT NULL
);

CREATE TABLE scale (
    id                      text COLLATE "C" CONSTRAINT scale_pk PRIMARY KEY,
    description             text NOT NULL,
    division                bigint NOT NULL CONSTRAINT scale_division_positive CHECK (division > 0),
    capacity                bigint NOT NULL CONSTRAINT scale_capacity_in_divisions CHECK (capacity > 0 AND capacity % division = 0),
    accuracy_class          text NOT NULL,
    seal                    text NOT NULL,
    certificate_expire_date date,
    creator                 text NOT NULL,
    create_time             timestamptz NOT NULL
);

-- Checks of one scale are numbered from 1 under its lock, so the newest is known without comparing clocks.
CREATE TABLE scale_check (
    id              uuid CONSTRAINT scale_check_pk PRIMARY KEY,
    scale           text COLLATE "C" NOT NULL CONSTRAINT scale_check_of_scale REFERENCES scale,
    ordinal         bigint NOT NULL,
    zero_indication bigint NOT NULL,
    tolerance_kind  text NOT NULL,
    passed          boolean NOT NULL,
    finding         text NOT NULL,
    checker         text NOT NULL,
    check_time      timestamptz NOT NULL,
    check_date      date NOT NULL,
    CONSTRAINT scale_check_ordinal_unique UNIQUE (scale, ordinal)
);

CREATE TABLE scale_check_load (
    scale_check uuid NOT NULL CONSTRAINT scale_check_load_of_check REFERENCES scale_check,
    ordinal     integer NOT NULL,
    weight_id   text NOT NULL,
    known       bigint NOT NULL,
    indication  bigint NOT NULL,
    position    text NOT NULL,
    tolerance   bigint NOT NULL,
    error       bigint NOT NULL,
    passed      boolean NOT NULL,
    CONSTRAINT scale_check_load_pk PRIMARY KEY (scale_check, ordinal)
);

-- The last number given. The row stays locked until the ticket is committed, so a rollback gives its number back.
CREATE TABLE ticket_counter (
    site text NOT NULL,
    year integer NOT NULL,
    last bigint NOT NULL,
    CONSTRAINT ticket_counter_pk PRIMARY KEY (site, year)
) WITH (fillfactor = 20);

-- state, version, counts and close_time follow from lines and transitions; the rest never changes. Free space keeps the
-- many small updates of an open ticket on its page.
CREATE TABLE ticket (
    id                  uuid CONSTRAINT ticket_pk PRIMARY KEY,
    site                text NOT NULL,
    year                integer NOT NULL,
    ordinal             bigint NOT NULL,
    member              text COLLATE "C" NOT NULL CONSTRAINT ticket_of_member REFERENCES member,
    member_display_name text NOT NULL,
    crop_year           integer NOT NULL,
    hauler              text NOT NULL,
    harvest_declared    boolean NOT NULL,
    opener              text NOT NULL,
    open_time           timestamptz NOT NULL,
    delivery_date       date NOT NULL,
    supersedes          uuid CONSTRAINT ticket_supersedes REFERENCES ticket,
    state               text NOT NULL CONSTRAINT ticket_state_known CHECK (state IN ('OPEN', 'CLOSED', 'VOIDED', 'SUPERSEDED', 'CANCELLED')),
    version             bigint NOT NULL DEFAULT 1,
    barrel_count        integer NOT NULL DEFAULT 0,
    net_total           bigint NOT NULL DEFAULT 0,
    close_time          timestamptz,
    CONSTRAINT ticket_number_unique UNIQUE (year, ordinal, site),
    CONSTRAINT ticket_closed_has_time CHECK ((close_time IS NULL) = (state IN ('OPEN', 'CANCELLED')))
) WITH (fillfactor = 50);
-- A chain of reissues never forks.
CREATE UNIQUE INDEX ticket_superseded_once ON ticket (supersedes) WHERE supersedes IS NOT NULL;
CREATE INDEX ticket_by_member ON ticket (member, year, ordinal, site);
CREATE INDEX ticket_by_state ON ticket (state, year, ordinal, site);

-- Who ended a ticket, when and why.
CREATE TABLE ticket_transition (
    ticket          uuid NOT NULL CONSTRAINT ticket_transition_of_ticket REFERENCES ticket,
    version         bigint NOT NULL,
    state           text NOT NULL,
    actor           text NOT NULL,
    reason          text NOT NULL,
    transition_time timestamptz NOT NULL,
    CONSTRAINT ticket_transition_pk PRIMARY KEY (ticket, version)
);

-- The passing check each scale of a ticket had when it was closed.
CREATE TABLE ticket_scale_check (
    ticket      uuid NOT NULL CONSTRAINT ticket_scale_check_of_ticket REFERENCES ticket,
    scale_check uuid NOT NULL CONSTRAINT ticket_scale_check_of_check REFERENCES scale_check,
    CONSTRAINT ticket_scale_check_pk PRIMARY KEY (ticket, scale_check)
);

CREATE TABLE ticket_void_request (
    ticket         uuid NOT NULL CONSTRAINT ticket_void_request_of_ticket REFERENCES ticket,
    ordinal        integer NOT NULL,
    reason         text NOT NULL CONSTRAINT ticket_void_reason_given CHECK (reason <> ''),
    requester      text NOT NULL,
    request_time   timestamptz NOT NULL,
    reissue_member text COLLATE "C" CONSTRAINT ticket_void_for_member REFERENCES member,
    CONSTRAINT ticket_void_request_pk PRIMARY KEY (ticket, ordinal)
);

CREATE TABLE ticket_void_approval (
    ticket       uuid CONSTRAINT ticket_void_approval_pk PRIMARY KEY,
    request      integer NOT NULL,
    approver     text NOT NULL,
    approve_time timestamptz NOT NULL,
    CONSTRAINT ticket_void_approval_of_request FOREIGN KEY (ticket, request) REFERENCES ticket_void_request
);

-- No reference to scale: checking it would lock the one row all weighings share. Scales are never deleted, and the service
-- reads the scale in the same transaction.
CREATE TABLE barrel (
    id             uuid CONSTRAINT barrel_pk PRIMARY KEY,
    drum_tag       text COLLATE "C" NOT NULL,
    variety        text NOT NULL,
    crop_year      integer NOT NULL,
    gross          bigint NOT NULL,
    tare           bigint NOT NULL,
    tare_kind      text NOT NULL,
    net            bigint NOT NULL CONSTRAINT barrel_net_is_gross_less_tare CHECK (net > 0 AND net = gross - tare),
    scale          text COLLATE "C" NOT NULL,
    check_ordinal  bigint NOT NULL,
    raw_indication text NOT NULL,
    manual         boolean NOT NULL,
    reason         text NOT NULL,
    warnings       text[] NOT NULL,
    weigher        text NOT NULL,
    weigh_time     timestamptz NOT NULL,
    open           boolean NOT NULL DEFAULT true
);
-- A drum holds at most one barrel that was not emptied, whatever year it is from.
CREATE UNIQUE INDEX barrel_drum_open ON barrel (drum_tag) WHERE open;
-- What a failed check puts in doubt. New rows always land at the right edge for their scale.
CREATE INDEX barrel_by_check ON barrel (scale, check_ordinal);

-- A reissue lists the same barrels again on a new ticket.
CREATE TABLE ticket_line (
    ticket uuid NOT NULL CONSTRAINT ticket_line_of_ticket REFERENCES ticket,
    line   integer NOT NULL CONSTRAINT ticket_line_from_one CHECK (line >= 1),
    barrel uuid NOT NULL CONSTRAINT ticket_line_of_barrel REFERENCES barrel,
    CONSTRAINT ticket_line_pk PRIMARY KEY (ticket, line),
    CONSTRAINT ticket_line_barrel_once UNIQUE (barrel, ticket)
);

CREATE TABLE sample (
    code      text COLLATE "C" CONSTRAINT sample_pk PRIMARY KEY,
    barrel    uuid NOT NULL CONSTRAINT sample_of_barrel REFERENCES barrel,
    drawer    text NOT NULL,
    draw_time timestamptz NOT NULL,
    CONSTRAINT sample_once UNIQUE (barrel)
);

-- The end of each filling, with what is known of the empty weight.
CREATE TABLE drum_release (
    barrel       uuid CONSTRAINT drum_release_pk PRIMARY KEY CONSTRAINT drum_release_of_barrel REFERENCES barrel,
    drum_tag     text COLLATE "C" NOT NULL,
    tare         bigint NOT NULL,
    tare_kind    text NOT NULL,
    tare_time    timestamptz NOT NULL,
    empty_weight bigint CONSTRAINT drum_release_weight_positive CHECK (empty_weight > 0),
    reason       text NOT NULL,
    releaser     text NOT NULL,
    release_time timestamptz NOT NULL
);
CREATE INDEX drum_release_by_drum ON drum_release (drum_tag, release_time);

GRANT UPDATE (last) ON ticket_counter TO intake_app;
GRANT UPDATE (state, version, barrel_count, net_total, close_time) ON ticket TO intake_app;
GRANT UPDATE (open) ON barrel TO intake_app;
