-- +goose Up

-- The third way a request to write honey off ends: the floor takes it back. Who, when and why stand where a decision has them.
ALTER TABLE write_off_decision ADD COLUMN withdrawn boolean NOT NULL DEFAULT false,
    ADD CONSTRAINT write_off_withdrawn CHECK (NOT withdrawn OR transfer IS NULL);
