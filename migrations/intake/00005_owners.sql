-- Several owners of one delivery, and what a member agreed on for all its deliveries. Shares are 10^-4 percent.

-- +goose Up

-- Only for tickets with more than one owner; place 1 is the member of the ticket.
CREATE TABLE ticket_owner (
    ticket       uuid NOT NULL CONSTRAINT ticket_owner_of_ticket REFERENCES ticket,
    place        integer NOT NULL CONSTRAINT ticket_owner_at_most_ten CHECK (place BETWEEN 1 AND 10),
    member       text COLLATE "C" NOT NULL CONSTRAINT ticket_owner_is_member REFERENCES member,
    display_name text NOT NULL,
    share        bigint NOT NULL CONSTRAINT ticket_owner_share_is_part CHECK (share > 0 AND share < 1000000),
    CONSTRAINT ticket_owner_pk PRIMARY KEY (ticket, place),
    CONSTRAINT ticket_owner_once UNIQUE (member, ticket)
);

CREATE TABLE ticket_void_owner (
    ticket  uuid NOT NULL,
    request integer NOT NULL,
    place   integer NOT NULL CONSTRAINT ticket_void_owner_at_most_ten CHECK (place BETWEEN 1 AND 10),
    member  text COLLATE "C" NOT NULL CONSTRAINT ticket_void_owner_is_member REFERENCES member,
    share   bigint NOT NULL CONSTRAINT ticket_void_owner_share_is_part CHECK (share > 0 AND share < 1000000),
    CONSTRAINT ticket_void_owner_pk PRIMARY KEY (ticket, request, place),
    CONSTRAINT ticket_void_owner_of_request FOREIGN KEY (ticket, request) REFERENCES ticket_void_request
);

CREATE TABLE standing_split (
    id             bigint GENERATED ALWAYS AS IDENTITY CONSTRAINT standing_split_pk PRIMARY KEY,
    member         text COLLATE "C" NOT NULL CONSTRAINT standing_split_of_member REFERENCES member,
    effective_date date NOT NULL,
    note           text NOT NULL CONSTRAINT standing_split_says_why CHECK (note <> ''),
    setter         text NOT NULL,
    set_time       timestamptz NOT NULL
);
CREATE INDEX standing_split_by_date ON standing_split (member, effective_date, id);

CREATE TABLE standing_split_owner (
    split  bigint NOT NULL CONSTRAINT standing_split_owner_of_split REFERENCES standing_split,
    place  integer NOT NULL CONSTRAINT standing_split_owner_at_most_ten CHECK (place BETWEEN 1 AND 10),
    member text COLLATE "C" NOT NULL CONSTRAINT standing_split_owner_is_member REFERENCES member,
    share  bigint NOT NULL CONSTRAINT standing_split_owner_share_is_part CHECK (share > 0 AND share < 1000000),
    CONSTRAINT standing_split_owner_pk PRIMARY KEY (split, place)
);
