-- +goose Up

-- Charges and lots are held too: "barrel" is the id of what is held, and kind says of what kind. A hold that follows from
-- another, because what is held is made of what that one holds, names it.
ALTER TABLE hold
    ADD COLUMN kind text NOT NULL DEFAULT 'stock' CONSTRAINT hold_kind CHECK (kind IN ('stock', 'charges', 'packLots')),
    ADD COLUMN cause uuid REFERENCES hold;
CREATE INDEX hold_by_cause ON hold (cause) WHERE cause IS NOT NULL;
