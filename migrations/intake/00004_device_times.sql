-- A dock that was offline says when it weighed; when that reached the service is kept beside it.

-- +goose Up

ALTER TABLE ticket ADD COLUMN record_time timestamptz;
ALTER TABLE barrel ADD COLUMN record_time timestamptz;
UPDATE ticket SET record_time = open_time;
UPDATE barrel SET record_time = weigh_time;
ALTER TABLE ticket ALTER COLUMN record_time SET NOT NULL;
ALTER TABLE barrel ALTER COLUMN record_time SET NOT NULL;
