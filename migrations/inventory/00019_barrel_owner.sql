-- +goose Up

-- From intake: who shares what is paid for a barrel by its live ticket; none where its member owns all of it. A barrel of before has them
-- after a rebuild of what intake told.
CREATE TABLE barrel_owner (
    barrel uuid NOT NULL,
    member text NOT NULL,
    PRIMARY KEY (barrel, member)
);

-- +goose StatementBegin
DO $$
DECLARE
    app text := quote_ident(current_schema() || '_app');
BEGIN
    EXECUTE 'GRANT UPDATE, DELETE ON barrel_owner TO ' || app;
END
$$;
-- +goose StatementEnd
