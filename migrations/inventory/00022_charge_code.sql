-- +goose Up

-- What people call a charge and print for it: its tank, two digits of the year it was opened in, and its number among those of the
-- tank and year. Those of before are numbered in the order they were opened. Which day it was where the house stands is not known here,
-- so their year is that of UTC; new ones go on from the highest of their tank and year all the same, since codes are what is counted.
ALTER TABLE charge ADD COLUMN code text;

UPDATE charge SET code = n.code
FROM (SELECT c.charge, c.tank || '-' || c.yy || '-' || CASE WHEN c.place < 1000 THEN lpad(c.place::text, 3, '0') ELSE c.place::text END AS code
      FROM (SELECT charge, tank, to_char(open_time AT TIME ZONE 'UTC', 'YY') AS yy,
                   row_number() OVER (PARTITION BY tank, to_char(open_time AT TIME ZONE 'UTC', 'YY') ORDER BY number) AS place
            FROM charge) c) n
WHERE charge.charge = n.charge;

ALTER TABLE charge ALTER COLUMN code SET NOT NULL, ADD CONSTRAINT charge_code UNIQUE (code);
CREATE INDEX charge_by_tank ON charge (tank);
