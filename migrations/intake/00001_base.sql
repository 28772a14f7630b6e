-- +goose Up

COMMENT ON SCHEMA intake IS 'Receiving: members, drums, tickets, weighings, samples.';
