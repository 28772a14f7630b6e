-- The barrels and members of a run, one row each instead of one document: a run may have a million barrels, and a document
-- of that size cannot be read piece by piece.

-- +goose Up

-- What a closing needs of each standing advance, beside it: the payouts themselves are wide, and a trial run reads a
-- season's. step is what came off the price for water.
ALTER TABLE standing_advance
    ADD COLUMN certificate uuid, ADD COLUMN crop_year integer, ADD COLUMN variety text, ADD COLUMN color_class text, ADD COLUMN grade text,
    ADD COLUMN share bigint, ADD COLUMN payable bigint, ADD COLUMN step bigint, ADD COLUMN gross_amount bigint;
UPDATE standing_advance a SET certificate = p.certificate, crop_year = p.crop_year, variety = p.variety, color_class = p.color_class, grade = p.grade,
    share = p.share, payable = p.payable, gross_amount = p.gross_amount,
    step = (SELECT coalesce(sum(amount), 0) FROM payout_line l WHERE l.payout = p.payout AND l.kind = 2)
FROM payout p WHERE p.payout = a.payout;
ALTER TABLE standing_advance
    ALTER COLUMN certificate SET NOT NULL, ALTER COLUMN crop_year SET NOT NULL, ALTER COLUMN variety SET NOT NULL, ALTER COLUMN color_class SET NOT NULL,
    ALTER COLUMN grade SET NOT NULL, ALTER COLUMN share SET NOT NULL, ALTER COLUMN payable SET NOT NULL, ALTER COLUMN step SET NOT NULL,
    ALTER COLUMN gross_amount SET NOT NULL;

-- One owner's part of one barrel: what went in, and its value. part counts the owners of a barrel by member number. The run
-- is no foreign key: the rows are copied before the run is numbered, in the same transaction, and a look for each of a
-- million rows would cost more than all the rest.
CREATE TABLE run_line (
    run      uuid NOT NULL,
    barrel   uuid NOT NULL,
    part     smallint NOT NULL,
    advance  uuid NOT NULL,
    class    smallint NOT NULL,
    member   text NOT NULL,
    share    bigint NOT NULL,
    payable  bigint NOT NULL,
    step     bigint NOT NULL,
    credited bigint NOT NULL,
    value    bigint NOT NULL,
    odd      boolean NOT NULL,
    CONSTRAINT run_line_pk PRIMARY KEY (run, barrel, part)
);

CREATE TABLE run_member (
    run        uuid NOT NULL,
    member     text NOT NULL,
    barrels    integer NOT NULL,
    payable    bigint NOT NULL,
    value      bigint NOT NULL,
    credited   bigint NOT NULL,
    due        bigint NOT NULL,
    receivable bigint NOT NULL,
    CONSTRAINT run_member_pk PRIMARY KEY (run, member)
);

-- Runs calculated before. A part of a shared barrel names its own advance, whose weight and step are its own.
INSERT INTO run_line
SELECT s.run, (b ->> 'barrel')::uuid, o.part - 1, coalesce(o.owner ->> 'advance', b ->> 'advance')::uuid, (b ->> 'class')::smallint, o.owner ->> 'member',
    CASE WHEN o.owner ? 'advance' THEN (o.owner ->> 'weight')::bigint ELSE 1000000 END,
    coalesce(p.payable, ((b ->> 'payable')::numeric * 1000)::bigint),
    coalesce((SELECT sum(amount) FROM payout_line l WHERE l.payout = p.payout AND l.kind = 2), CASE WHEN p.payout IS NULL THEN ((b ->> 'step')::numeric * 100)::bigint ELSE 0 END),
    ((o.owner ->> 'credited')::numeric * 100)::bigint, ((v ->> 'value')::numeric * 100)::bigint, coalesce((v ->> 'odd')::boolean, false)
FROM settlement_run s, jsonb_array_elements(convert_from(s.inputs, 'UTF8')::jsonb -> 'barrels') b,
    jsonb_array_elements(b -> 'owners') WITH ORDINALITY o (owner, part)
    LEFT JOIN payout p ON p.payout = (o.owner ->> 'advance')::uuid,
    jsonb_array_elements(convert_from(s.outcome, 'UTF8')::jsonb -> 'lines') v
WHERE v ->> 'barrel' = b ->> 'barrel' AND v ->> 'member' = o.owner ->> 'member';

INSERT INTO run_member
SELECT s.run, m ->> 'member', (m ->> 'barrels')::integer, ((m ->> 'payable')::numeric * 1000)::bigint, ((m ->> 'value')::numeric * 100)::bigint,
    ((m ->> 'credited')::numeric * 100)::bigint, ((m ->> 'due')::numeric * 100)::bigint, ((m ->> 'receivable')::numeric * 100)::bigint
FROM settlement_run s, jsonb_array_elements(convert_from(s.outcome, 'UTF8')::jsonb -> 'members') m;

UPDATE settlement_run SET
    inputs = convert_to((convert_from(inputs, 'UTF8')::jsonb - 'barrels')::text, 'UTF8'),
    outcome = convert_to((convert_from(outcome, 'UTF8')::jsonb - 'lines'
        || jsonb_build_object('members', jsonb_array_length(convert_from(outcome, 'UTF8')::jsonb -> 'members')))::text, 'UTF8');
