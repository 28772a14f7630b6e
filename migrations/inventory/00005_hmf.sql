-- +goose Up

-- What the standing certificate says of HMF, in tenths of mg/kg, and when that was read. Certificates taken in before are
-- filled by a rebuild of the grades; until then their HMF counts as not measured.
ALTER TABLE certificate ADD COLUMN hmf bigint, ADD COLUMN hmf_time timestamptz;
