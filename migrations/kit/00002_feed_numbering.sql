-- Numbering costs what is new, however long it is since vacuum last removed what was numbered before.

-- +goose Up

-- By transaction first: that is how the pending events are looked for.
ALTER TABLE event_pending DROP CONSTRAINT event_pending_pk, ADD CONSTRAINT event_pending_pk PRIMARY KEY (transaction, insertion);

-- Every transaction before this one is over and its events are numbered.
ALTER TABLE feed_head ADD COLUMN numbered_below xid8 NOT NULL DEFAULT '0';

-- number_events gives the events visible now the next numbers and returns the head. Whoever reads calls it; the row
-- lock on feed_head lets one reader number at a time, and READ COMMITTED gives the later statements snapshots taken
-- after the lock. Transactions are numbered whole, in the order of their last insertion: an event caused by another was
-- inserted after that one was committed, so a cause always comes first, and no transaction is torn.
-- What ended before the oldest transaction still running when the work began is seen by it; so when nothing was left over,
-- nothing below that transaction has to be looked for again. Transactions beyond all those of this server belong to the one
-- the log was restored from: then everything is looked at once more.
-- It runs as the owner because the service role may neither change the log nor delete anything. The planner is kept from
-- reading the whole table, which after a busy hour is mostly rows that are gone.
-- +goose StatementBegin
CREATE OR REPLACE FUNCTION number_events(most_transactions integer) RETURNS bigint
    LANGUAGE plpgsql SECURITY DEFINER SET search_path FROM CURRENT SET enable_seqscan = off SET jit = off AS $$
DECLARE
    head bigint;
    last bytea;
    since xid8;
    running xid8;
    given bigint;
BEGIN
    SELECT head_sequence, numbered_below INTO STRICT head, since FROM feed_head;
    IF since > pg_snapshot_xmax(pg_current_snapshot()) THEN
        since := '0';
    END IF;
    -- Without this look every reader of an idle log would take the lock at every poll.
    IF NOT EXISTS (SELECT FROM event_pending WHERE transaction >= since) THEN
        RETURN head;
    END IF;
    SELECT head_sequence, head_chain, numbered_below INTO STRICT head, last, since FROM feed_head FOR UPDATE;
    running := pg_snapshot_xmin(pg_current_snapshot());
    IF since > pg_snapshot_xmax(pg_current_snapshot()) THEN
        since := '0';
    END IF;
    WITH due AS (
        SELECT transaction, max(insertion) AS last_insertion FROM event_pending WHERE transaction >= since
        GROUP BY transaction ORDER BY last_insertion LIMIT most_transactions
    ), taken AS (
        DELETE FROM event_pending p USING due WHERE p.transaction = due.transaction AND p.transaction >= since
        RETURNING p.*, due.last_insertion
    ), numbered AS (
        SELECT taken.*, head + row_number() OVER (ORDER BY last_insertion, insertion) AS sequence,
               head + count(*) OVER (ORDER BY last_insertion) AS transaction_last
        FROM taken
    )
    INSERT INTO event (sequence, transaction_last_sequence, event_id, aggregate, occur_time, record_time, actor, request_id,
                       type, payload, chain)
    SELECT sequence, transaction_last, event_id, aggregate, occur_time, record_time, actor, request_id, type, payload,
           feed_chain(last, int8send(sequence) || int8send(transaction_last) || uuid_send(event_id)
               || feed_bytes(convert_to(aggregate, 'UTF8')) || feed_time(occur_time) || feed_time(record_time)
               || feed_bytes(convert_to(actor, 'UTF8')) || feed_bytes(convert_to(request_id, 'UTF8'))
               || feed_bytes(convert_to(type, 'UTF8')) || feed_bytes(payload)) OVER (ORDER BY sequence)
    FROM numbered ORDER BY sequence;
    GET DIAGNOSTICS given = ROW_COUNT;
    IF given > 0 THEN
        head := head + given;
        UPDATE feed_head SET head_sequence = head, head_chain = (SELECT chain FROM event WHERE sequence = head),
            -- As many events as transactions were asked for: some may be left.
            numbered_below = CASE WHEN given < most_transactions THEN running ELSE since END;
    END IF;
    RETURN head;
END
$$;
-- +goose StatementEnd
