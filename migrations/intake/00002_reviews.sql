-- What a dock has to look at again: barrels a failed check put in doubt, drums that weighed otherwise empty than said.

-- +goose Up

ALTER TABLE scale_check
    ADD COLUMN seal text NOT NULL DEFAULT '',
    ADD COLUMN corners boolean NOT NULL DEFAULT false;
CREATE INDEX scale_check_of_corners ON scale_check (scale, ordinal) WHERE corners;

CREATE TABLE scale_review (
    id          uuid CONSTRAINT scale_review_pk PRIMARY KEY,
    scale_check uuid NOT NULL CONSTRAINT scale_review_of_check REFERENCES scale_check CONSTRAINT scale_review_once UNIQUE,
    since_time  timestamptz,
    open_time   timestamptz NOT NULL
);
CREATE INDEX scale_review_by_time ON scale_review (open_time, id);

CREATE TABLE scale_review_barrel (
    review  uuid NOT NULL CONSTRAINT scale_review_barrel_of_review REFERENCES scale_review,
    place   integer NOT NULL,
    barrel  uuid NOT NULL CONSTRAINT scale_review_barrel_is_barrel REFERENCES barrel,
    ticket  uuid NOT NULL CONSTRAINT scale_review_barrel_on_ticket REFERENCES ticket,
    in_drum boolean NOT NULL,
    CONSTRAINT scale_review_barrel_pk PRIMARY KEY (review, place)
);

CREATE TABLE tare_variance (
    barrel       uuid CONSTRAINT tare_variance_pk PRIMARY KEY CONSTRAINT tare_variance_of_release REFERENCES drum_release,
    ticket       uuid NOT NULL CONSTRAINT tare_variance_on_ticket REFERENCES ticket,
    drum_tag     text COLLATE "C" NOT NULL,
    tare         bigint NOT NULL,
    tare_kind    text NOT NULL,
    empty_weight bigint NOT NULL,
    allowed      bigint NOT NULL,
    finder       text NOT NULL,
    find_time    timestamptz NOT NULL,
    CONSTRAINT tare_variance_is_one CHECK (abs(tare - empty_weight) > allowed)
);
CREATE INDEX tare_variance_by_time ON tare_variance (find_time, barrel);

-- Reports span days; barrels lie in the table in the order they were weighed, so a few bytes for each stretch are enough.
CREATE INDEX barrel_by_time ON barrel USING brin (weigh_time) WITH (pages_per_range = 32);
