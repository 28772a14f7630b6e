-- Counters of what closings depend on, so that whether a run is outdated is told by comparing two numbers and not by reading a
-- season again.

-- +goose Up

-- How often a table that closings read was changed, by crop year; year 0 is changes of any year. Of each table there is a
-- counter of its own, since whoever changes one has its turn already (the cursor of the feed, or the gate): nobody waits for
-- a counter who did not wait before. The service may read and not set them.
CREATE TABLE input_version (
    source    text NOT NULL,
    crop_year integer NOT NULL,
    version   bigint NOT NULL,
    CONSTRAINT input_version_pk PRIMARY KEY (source, crop_year)
);
REVOKE INSERT ON input_version FROM settlement_app;

-- A transaction counts once: others see all of it or nothing. What it has counted is forgotten with it.
-- +goose StatementBegin
CREATE FUNCTION count_change(source text, crop_year integer) RETURNS void
    LANGUAGE plpgsql SECURITY DEFINER SET search_path FROM CURRENT AS $$
DECLARE
    counted text := coalesce(current_setting('settlement.counted', true), '');
    mark text := source || ' ' || crop_year || ';';
BEGIN
    IF position(mark IN counted) = 0 THEN
        INSERT INTO input_version AS v VALUES (source, crop_year, 1)
            ON CONFLICT ON CONSTRAINT input_version_pk DO UPDATE SET version = v.version + 1;
        PERFORM set_config('settlement.counted', counted || mark, true);
    END IF;
END $$;
-- +goose StatementEnd

-- +goose StatementBegin
CREATE FUNCTION count_years_changed() RETURNS trigger LANGUAGE plpgsql SET search_path FROM CURRENT AS $$
BEGIN
    PERFORM count_change(TG_TABLE_NAME, y.crop_year) FROM (SELECT DISTINCT c.crop_year FROM changed c) y;
    RETURN NULL;
END $$;
-- +goose StatementEnd

-- +goose StatementBegin
CREATE FUNCTION count_any_change() RETURNS trigger LANGUAGE plpgsql SET search_path FROM CURRENT AS $$
BEGIN
    PERFORM count_change(TG_TABLE_NAME, 0);
    RETURN NULL;
END $$;
-- +goose StatementEnd

-- +goose StatementBegin
DO $$
DECLARE
    source text;
BEGIN
    FOREACH source IN ARRAY ARRAY['standing_advance', 'intake_barrel'] LOOP
        EXECUTE format('CREATE TRIGGER count_added AFTER INSERT ON %I REFERENCING NEW TABLE AS changed FOR EACH STATEMENT EXECUTE FUNCTION count_years_changed()', source);
        EXECUTE format('CREATE TRIGGER count_removed AFTER DELETE ON %I REFERENCING OLD TABLE AS changed FOR EACH STATEMENT EXECUTE FUNCTION count_years_changed()', source);
        EXECUTE format('CREATE TRIGGER count_before AFTER UPDATE ON %I REFERENCING OLD TABLE AS changed FOR EACH STATEMENT EXECUTE FUNCTION count_years_changed()', source);
        EXECUTE format('CREATE TRIGGER count_after AFTER UPDATE ON %I REFERENCING NEW TABLE AS changed FOR EACH STATEMENT EXECUTE FUNCTION count_years_changed()', source);
        EXECUTE format('CREATE TRIGGER count_emptied AFTER TRUNCATE ON %I FOR EACH STATEMENT EXECUTE FUNCTION count_any_change()', source);
    END LOOP;
    FOREACH source IN ARRAY ARRAY['standing_final', 'intake_doubt', 'grading_doubt', 'pool', 'pool_entry', 'run_release'] LOOP
        EXECUTE format('CREATE TRIGGER count_change AFTER INSERT OR UPDATE OR DELETE OR TRUNCATE ON %I FOR EACH STATEMENT EXECUTE FUNCTION count_any_change()', source);
    END LOOP;
END $$;
-- +goose StatementEnd

-- The version a run's snapshot saw; runs made before have none.
ALTER TABLE settlement_run ADD COLUMN inputs_version bigint;
CREATE INDEX settlement_run_by_version ON settlement_run (pool, inputs_version);
