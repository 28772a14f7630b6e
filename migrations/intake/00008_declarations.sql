-- Harvest and treatment declarations that came after the ticket was opened.

-- +goose Up

CREATE TABLE ticket_declaration (
    ticket       uuid CONSTRAINT ticket_declaration_pk PRIMARY KEY CONSTRAINT ticket_declaration_of_ticket REFERENCES ticket,
    declarer     text NOT NULL,
    note         text NOT NULL,
    declare_time timestamptz NOT NULL
);
