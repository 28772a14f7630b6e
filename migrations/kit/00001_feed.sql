-- The tables every service has beside its own: the event log, the cursors of the feeds it follows, the request ledger.

-- +goose Up

-- Committed events wait here without a number: a number given before COMMIT would become visible out of order.
CREATE TABLE event_pending (
    insertion   bigint GENERATED ALWAYS AS IDENTITY CONSTRAINT event_pending_pk PRIMARY KEY,
    transaction xid8 NOT NULL DEFAULT pg_current_xact_id(),
    event_id    uuid NOT NULL,
    aggregate   text NOT NULL,
    occur_time  timestamptz NOT NULL,
    record_time timestamptz NOT NULL,
    actor       text NOT NULL,
    request_id  text NOT NULL,
    type        text NOT NULL,
    payload     bytea NOT NULL
) WITH (autovacuum_vacuum_scale_factor = 0, autovacuum_vacuum_threshold = 2000, autovacuum_analyze_scale_factor = 10);

-- The log. Only number_events writes it, in order of sequence; nothing changes or deletes a row.
CREATE TABLE event (
    sequence                  bigint CONSTRAINT event_pk PRIMARY KEY,
    transaction_last_sequence bigint NOT NULL,
    event_id                  uuid NOT NULL CONSTRAINT event_id_unique UNIQUE,
    aggregate                 text NOT NULL,
    occur_time                timestamptz NOT NULL,
    record_time               timestamptz NOT NULL,
    actor                     text NOT NULL,
    request_id                text NOT NULL,
    type                      text NOT NULL,
    payload                   bytea NOT NULL,
    chain                     bytea NOT NULL,
    CONSTRAINT event_transaction_ends_later CHECK (transaction_last_sequence >= sequence)
);

-- One row. oldest_sequence is the first event still kept; head_chain is the chain value of the newest event.
CREATE TABLE feed_head (
    single          boolean NOT NULL DEFAULT true CONSTRAINT feed_head_pk PRIMARY KEY CONSTRAINT feed_head_single CHECK (single),
    log_id          uuid NOT NULL DEFAULT gen_random_uuid(),
    head_sequence   bigint NOT NULL DEFAULT 0,
    oldest_sequence bigint NOT NULL DEFAULT 1,
    head_chain      bytea NOT NULL DEFAULT sha256('')
) WITH (fillfactor = 20);
INSERT INTO feed_head DEFAULT VALUES;

-- Where each feed this service follows has been applied up to. A halt is a row with halted_sequence.
CREATE TABLE feed_cursor (
    consumer        text CONSTRAINT feed_cursor_pk PRIMARY KEY,
    source          text NOT NULL,
    log_id          text NOT NULL DEFAULT '',
    sequence        bigint NOT NULL DEFAULT 0,
    head_sequence   bigint NOT NULL DEFAULT 0,
    update_time     timestamptz NOT NULL DEFAULT now(),
    halted_sequence bigint,
    halted_reason   text,
    halt_time       timestamptz,
    CONSTRAINT feed_cursor_halt_whole CHECK ((halted_sequence IS NULL) = (halted_reason IS NULL) AND (halted_sequence IS NULL) = (halt_time IS NULL))
) WITH (fillfactor = 20);

-- Events an operator decided to pass over, and why.
CREATE TABLE feed_skipped (
    consumer  text NOT NULL,
    log_id    text NOT NULL,
    sequence  bigint NOT NULL,
    reason    text NOT NULL CONSTRAINT feed_skipped_reason_given CHECK (reason <> ''),
    actor     text NOT NULL,
    skip_time timestamptz NOT NULL,
    CONSTRAINT feed_skipped_pk PRIMARY KEY (consumer, log_id, sequence)
);

-- The first answer to each request; a repeat gets it again.
CREATE TABLE request_ledger (
    request_id  uuid CONSTRAINT request_ledger_pk PRIMARY KEY,
    method      text NOT NULL,
    body_hash   bytea NOT NULL,
    response    bytea NOT NULL,
    record_time timestamptz NOT NULL
);

-- Lengths before texts: without them two different events could have the same bytes.
-- +goose StatementBegin
CREATE FUNCTION feed_bytes(value bytea) RETURNS bytea LANGUAGE sql IMMUTABLE
    RETURN int4send(octet_length(value)) || value;
-- +goose StatementEnd

-- +goose StatementBegin
CREATE FUNCTION feed_time(value timestamptz) RETURNS bytea LANGUAGE sql IMMUTABLE
    RETURN int8send((extract(epoch FROM value) * 1000000)::bigint);
-- +goose StatementEnd

-- +goose StatementBegin
CREATE FUNCTION feed_chain_step(state bytea, before bytea, content bytea) RETURNS bytea LANGUAGE sql IMMUTABLE
    RETURN sha256(coalesce(state, before) || content);
-- +goose StatementEnd

CREATE AGGREGATE feed_chain(before bytea, content bytea) (SFUNC = feed_chain_step, STYPE = bytea);

-- number_events gives the events visible now the next numbers and returns the head. Whoever reads calls it; the row
-- lock on feed_head lets one reader number at a time, and READ COMMITTED gives the second statement a snapshot taken
-- after the lock. Transactions are numbered whole, in the order of their last insertion: an event caused by another was
-- inserted after that one was committed, so a cause always comes first, and no transaction is torn.
-- It runs as the owner because the service role may neither change the log nor delete anything.
-- +goose StatementBegin
CREATE FUNCTION number_events(most_transactions integer) RETURNS bigint
    LANGUAGE plpgsql SECURITY DEFINER SET search_path FROM CURRENT AS $$
DECLARE
    head bigint;
    last bytea;
    given bigint;
BEGIN
    SELECT head_sequence, head_chain INTO STRICT head, last FROM feed_head FOR UPDATE;
    WITH due AS (
        SELECT transaction, max(insertion) AS last_insertion FROM event_pending
        GROUP BY transaction ORDER BY last_insertion LIMIT most_transactions
    ), taken AS (
        DELETE FROM event_pending p USING due WHERE p.transaction = due.transaction RETURNING p.*, due.last_insertion
    ), numbered AS (
        SELECT taken.*, head + row_number() OVER (ORDER BY last_insertion, insertion) AS sequence FROM taken
    ), bounded AS (
        SELECT numbered.*, max(sequence) OVER (PARTITION BY transaction) AS transaction_last FROM numbered
    )
    INSERT INTO event (sequence, transaction_last_sequence, event_id, aggregate, occur_time, record_time, actor, request_id,
                       type, payload, chain)
    SELECT sequence, transaction_last, event_id, aggregate, occur_time, record_time, actor, request_id, type, payload,
           feed_chain(last, int8send(sequence) || int8send(transaction_last) || uuid_send(event_id)
               || feed_bytes(convert_to(aggregate, 'UTF8')) || feed_time(occur_time) || feed_time(record_time)
               || feed_bytes(convert_to(actor, 'UTF8')) || feed_bytes(convert_to(request_id, 'UTF8'))
               || feed_bytes(convert_to(type, 'UTF8')) || feed_bytes(payload)) OVER (ORDER BY sequence)
    FROM bounded ORDER BY sequence;
    GET DIAGNOSTICS given = ROW_COUNT;
    IF given > 0 THEN
        head := head + given;
        UPDATE feed_head SET head_sequence = head, head_chain = (SELECT chain FROM event WHERE sequence = head);
    END IF;
    RETURN head;
END
$$;
-- +goose StatementEnd

-- +goose StatementBegin
DO $$
DECLARE
    app text := quote_ident(current_schema() || '_app');
BEGIN
    EXECUTE 'REVOKE INSERT ON event, feed_head FROM ' || app;
    EXECUTE 'GRANT UPDATE ON feed_cursor TO ' || app;
    EXECUTE 'REVOKE ALL ON FUNCTION number_events(integer) FROM PUBLIC';
    EXECUTE 'GRANT EXECUTE ON FUNCTION number_events(integer) TO ' || app;
END
$$;
-- +goose StatementEnd
