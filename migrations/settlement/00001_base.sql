-- +goose Up

COMMENT ON SCHEMA settlement IS 'Office: pools, schedules, runs, statements, payouts.';
