-- +goose Up

COMMENT ON SCHEMA grading IS 'Laboratory: readings, certificates, holds.';
