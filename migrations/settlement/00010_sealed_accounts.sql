-- Account numbers are kept sealed under a key that is not in the database. Those of earlier releases are sealed by the service
-- when it starts, and their clear text is taken away: the only change payee_account ever allows.

-- +goose Up

ALTER TABLE payee_account ADD COLUMN ending text NOT NULL DEFAULT '';
UPDATE payee_account SET ending = right(account_number || iban, 4);

-- Sealed again under a new key, a row changes; what is sealed does not.
CREATE TABLE payee_secret (
    account uuid CONSTRAINT payee_secret_pk PRIMARY KEY REFERENCES payee_account,
    key_id  text NOT NULL CONSTRAINT payee_secret_names_its_key CHECK (key_id <> ''),
    sealed  bytea NOT NULL
);

-- +goose StatementBegin
CREATE FUNCTION payee_account_only_forgets() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    IF NEW.account_number <> '' OR NEW.iban <> '' THEN
        RAISE EXCEPTION 'an account number may only be taken away';
    END IF;
    RETURN NEW;
END $$;
-- +goose StatementEnd
CREATE TRIGGER payee_account_only_forgets BEFORE UPDATE ON payee_account FOR EACH ROW EXECUTE FUNCTION payee_account_only_forgets();

GRANT UPDATE (account_number, iban) ON payee_account TO settlement_app;
GRANT UPDATE (key_id, sealed) ON payee_secret TO settlement_app;
