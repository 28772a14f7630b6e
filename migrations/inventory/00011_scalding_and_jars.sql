-- +goose Up

-- Why another person let a stay be scalding hot; empty of stays that were not, and of those before this was asked.
ALTER TABLE heat_stay ADD COLUMN second_reason text NOT NULL DEFAULT '';

-- Jars that broke or were destroyed after their lot was closed: how many a transfer to a loss was.
CREATE TABLE jar_loss (
    transfer uuid PRIMARY KEY REFERENCES transfer (transfer),
    pack_lot uuid NOT NULL REFERENCES pack_lot,
    jars     bigint NOT NULL CHECK (jars > 0)
);
CREATE INDEX jar_loss_by_lot ON jar_loss (pack_lot);
