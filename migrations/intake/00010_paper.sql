-- Part barrels, and weights written in the paper book while the power was out.

-- +goose Up

ALTER TABLE barrel ADD COLUMN part boolean NOT NULL DEFAULT false;
ALTER TABLE barrel ADD COLUMN paper_number text NOT NULL DEFAULT '';
-- A barrel of a cancelled ticket is open no more, so that its line of the book can be entered again.
CREATE UNIQUE INDEX barrel_paper_once ON barrel (paper_number) WHERE paper_number <> '' AND open;

CREATE TABLE paper_confirmation (
    barrel       uuid CONSTRAINT paper_confirmation_pk PRIMARY KEY CONSTRAINT paper_confirmation_of_barrel REFERENCES barrel,
    confirmer    text NOT NULL,
    confirm_time timestamptz NOT NULL
);
