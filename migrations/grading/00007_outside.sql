-- Composites, results of outside laboratories keyed twice, and what follows from a residue. All append-only.

-- +goose Up

-- Equal masses of several samples in one jar under a code of its own; grams in ten-thousandths.
CREATE TABLE composite (
    code        text CONSTRAINT composite_pk PRIMARY KEY,
    variety     text NOT NULL,
    crop_year   integer NOT NULL,
    grams_each  bigint NOT NULL CONSTRAINT composite_grams_positive CHECK (grams_each > 0),
    creator     text NOT NULL,
    create_time timestamptz NOT NULL
);
CREATE TABLE composite_member (
    composite text NOT NULL CONSTRAINT composite_member_composite_known REFERENCES composite,
    sample    text NOT NULL,
    CONSTRAINT composite_member_pk PRIMARY KEY (composite, sample)
);
CREATE INDEX composite_member_by_sample ON composite_member (sample);

-- Values in ten-thousandths of the analyte's unit. below: nothing found by a method that would have found the value.
CREATE TABLE outside_result (
    sequence   bigint GENERATED ALWAYS AS IDENTITY CONSTRAINT outside_result_pk PRIMARY KEY,
    id         uuid NOT NULL CONSTRAINT outside_result_id_once UNIQUE,
    sample     text NOT NULL,
    analyte    text NOT NULL,
    value      bigint NOT NULL,
    below      boolean NOT NULL,
    laboratory text NOT NULL CONSTRAINT outside_result_laboratory_known CHECK (laboratory <> ''),
    report     text NOT NULL CONSTRAINT outside_result_report_known CHECK (report <> ''),
    keyer      text NOT NULL,
    key_time   timestamptz NOT NULL
);
CREATE INDEX outside_result_by_sample ON outside_result (sample, analyte);

-- The second step ends the first keying: confirmed by another person, or withdrawn with a reason.
CREATE TABLE outside_second (
    result      uuid CONSTRAINT outside_second_pk PRIMARY KEY REFERENCES outside_result (id),
    confirmed   boolean NOT NULL,
    login       text NOT NULL,
    time        timestamptz NOT NULL,
    reason      text NOT NULL,
    "over"      boolean NOT NULL,
    reading     uuid CONSTRAINT outside_second_reading_known REFERENCES reading,
    explanation text NOT NULL,
    CONSTRAINT outside_second_withdrawn_with_reason CHECK (confirmed = (reason = ''))
);

CREATE TABLE suspicion (
    sample  text NOT NULL,
    analyte text NOT NULL,
    result  uuid NOT NULL CONSTRAINT suspicion_result_known REFERENCES outside_result (id),
    CONSTRAINT suspicion_pk PRIMARY KEY (sample, analyte, result)
);
CREATE TABLE suspicion_end (
    sample    text NOT NULL,
    analyte   text NOT NULL,
    result    uuid NOT NULL,
    by_result uuid NOT NULL CONSTRAINT suspicion_end_result_known REFERENCES outside_result (id),
    confirmed boolean NOT NULL,
    CONSTRAINT suspicion_end_pk PRIMARY KEY (sample, analyte, result),
    CONSTRAINT suspicion_end_of_suspicion FOREIGN KEY (sample, analyte, result) REFERENCES suspicion
);

CREATE TABLE disposal (
    sample      text CONSTRAINT disposal_pk PRIMARY KEY,
    disposition text NOT NULL CONSTRAINT disposal_known CHECK (disposition IN ('RETURN', 'DESTROY', 'REGULATORY')),
    reason      text NOT NULL CONSTRAINT disposal_with_reason CHECK (reason <> ''),
    decider     text NOT NULL,
    decide_time timestamptz NOT NULL
);
