-- +goose Up

-- The word of a logged-in person that a stay may be scalding hot, given before its first readings. Append-only; none takes back another.
CREATE TABLE heat_allowance (
    heat_allowance uuid PRIMARY KEY,
    number         bigint GENERATED ALWAYS AS IDENTITY CONSTRAINT heat_allowance_number UNIQUE,
    stay           text NOT NULL,
    limit_celsius  bigint NOT NULL CHECK (limit_celsius >= 628), -- tenths of a degree
    reason         text NOT NULL CHECK (reason <> ''),
    allower        text NOT NULL,
    allow_time     timestamptz NOT NULL
);
CREATE INDEX heat_allowance_by_stay ON heat_allowance (stay, number);

-- Who recorded the first readings; second_person and second_reason are what was typed before there were allowances.
ALTER TABLE heat_stay ADD COLUMN opener text NOT NULL DEFAULT '';
UPDATE heat_stay s SET opener = coalesce((SELECT r.recorder FROM heat_reading r WHERE r.stay = s.stay ORDER BY r.record_time, r.time, r.probe LIMIT 1), '');
