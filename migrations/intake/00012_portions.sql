-- Portions by the date until which they are kept.

-- +goose Up

CREATE INDEX custody_event_by_expiry ON custody_event (expire_date, sample, portion) WHERE kind = 'SEALED';
