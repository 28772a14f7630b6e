-- Weighing a barrel again, and deciding about the barrels a failed check put in doubt. Nothing of it changes a ticket.

-- +goose Up

-- previous is the gross weight that counted before; the re-weigh counts instead when they differ by more than tolerance.
CREATE TABLE reweigh (
    barrel         uuid NOT NULL CONSTRAINT reweigh_of_barrel REFERENCES barrel,
    ordinal        integer NOT NULL CONSTRAINT reweigh_from_one CHECK (ordinal >= 1),
    gross          bigint NOT NULL CONSTRAINT reweigh_gross_positive CHECK (gross > 0),
    previous       bigint NOT NULL,
    tolerance      bigint NOT NULL CONSTRAINT reweigh_tolerance_not_negative CHECK (tolerance >= 0),
    scale          text COLLATE "C" NOT NULL CONSTRAINT reweigh_on_scale REFERENCES scale,
    check_ordinal  bigint NOT NULL,
    raw_indication text NOT NULL,
    manual         boolean NOT NULL,
    reason         text NOT NULL,
    weigher        text NOT NULL,
    weigh_time     timestamptz NOT NULL,
    CONSTRAINT reweigh_pk PRIMARY KEY (barrel, ordinal)
);
CREATE INDEX reweigh_by_check ON reweigh (scale, check_ordinal);

CREATE TABLE scale_review_resolution (
    review       uuid CONSTRAINT scale_review_resolution_pk PRIMARY KEY CONSTRAINT scale_review_resolution_of_review REFERENCES scale_review,
    resolver     text NOT NULL,
    resolve_time timestamptz NOT NULL
);

CREATE TABLE scale_review_finding (
    review  uuid NOT NULL CONSTRAINT scale_review_finding_of_resolution REFERENCES scale_review_resolution,
    place   integer NOT NULL,
    barrel  uuid NOT NULL CONSTRAINT scale_review_finding_is_barrel REFERENCES barrel,
    outcome text NOT NULL CONSTRAINT scale_review_finding_known CHECK (outcome IN ('ORIGINAL_KEPT', 'REWEIGH_USED', 'ACCEPTED', 'WITHDRAWN')),
    reweigh integer,
    net     bigint NOT NULL,
    ticket_net bigint NOT NULL,
    note    text NOT NULL,
    CONSTRAINT scale_review_finding_pk PRIMARY KEY (review, place),
    CONSTRAINT scale_review_finding_of_reweigh FOREIGN KEY (barrel, reweigh) REFERENCES reweigh,
    CONSTRAINT scale_review_finding_rests CHECK ((outcome = 'ACCEPTED') = (note <> '') AND (outcome IN ('ORIGINAL_KEPT', 'REWEIGH_USED')) = (reweigh IS NOT NULL))
);
CREATE INDEX scale_review_barrel_by_barrel ON scale_review_barrel (barrel);
