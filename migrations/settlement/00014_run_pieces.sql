-- The lines of a run, a thousand to a row and column by column: a run may have a million, and saving each as a row of its own
-- with its place in an index took longer than all the arithmetic.

-- +goose Up

ALTER TABLE run_line RENAME TO run_line_before;

-- Each array has one entry for each line, in the order of the lines, which is that of the barrels; pieces count from 0. As
-- before, the run is no foreign key: the lines are copied before it is numbered, in the same transaction.
CREATE TABLE run_piece (
    run      uuid NOT NULL,
    piece    integer NOT NULL,
    barrel   uuid[] NOT NULL,
    part     smallint[] NOT NULL,
    advance  uuid[] NOT NULL,
    class    smallint[] NOT NULL,
    member   text[] NOT NULL,
    share    bigint[] NOT NULL,
    payable  bigint[] NOT NULL,
    step     bigint[] NOT NULL,
    credited bigint[] NOT NULL,
    value    bigint[] NOT NULL,
    odd      boolean[] NOT NULL,
    CONSTRAINT run_piece_pk PRIMARY KEY (run, piece),
    CONSTRAINT run_piece_whole CHECK (cardinality(barrel) = ALL (ARRAY[cardinality(part), cardinality(advance), cardinality(class), cardinality(member),
        cardinality(share), cardinality(payable), cardinality(step), cardinality(credited), cardinality(value), cardinality(odd)]))
);
-- Identities and amounts do not compress, and trying takes long.
ALTER TABLE run_piece ALTER COLUMN barrel SET STORAGE EXTERNAL, ALTER COLUMN advance SET STORAGE EXTERNAL, ALTER COLUMN member SET STORAGE EXTERNAL,
    ALTER COLUMN class SET STORAGE EXTERNAL, ALTER COLUMN payable SET STORAGE EXTERNAL, ALTER COLUMN step SET STORAGE EXTERNAL,
    ALTER COLUMN credited SET STORAGE EXTERNAL, ALTER COLUMN value SET STORAGE EXTERNAL;

INSERT INTO run_piece
SELECT run, piece, array_agg(barrel ORDER BY place), array_agg(part ORDER BY place), array_agg(advance ORDER BY place), array_agg(class ORDER BY place),
    array_agg(member ORDER BY place), array_agg(share ORDER BY place), array_agg(payable ORDER BY place), array_agg(step ORDER BY place),
    array_agg(credited ORDER BY place), array_agg(value ORDER BY place), array_agg(odd ORDER BY place)
FROM (SELECT l.*, n AS place, (n - 1) / 1000 AS piece FROM (
    SELECT b.*, row_number() OVER (PARTITION BY run ORDER BY barrel, part) AS n FROM run_line_before b) l) p
GROUP BY run, piece;
DROP TABLE run_line_before;

-- The lines one by one, for whoever asks in SQL.
CREATE VIEW run_line AS
SELECT p.run, l.* FROM run_piece p, unnest(p.barrel, p.part, p.advance, p.class, p.member, p.share, p.payable, p.step, p.credited, p.value, p.odd)
    AS l (barrel, part, advance, class, member, share, payable, step, credited, value, odd);
