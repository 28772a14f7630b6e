-- Who may sign in, what was done to their logins, and the sessions that are open.

-- +goose Up
CREATE TABLE login (
    login text NOT NULL CONSTRAINT login_pkey PRIMARY KEY CHECK (login ~ '^[a-z][a-z0-9._-]{1,39}$'),
    -- Argon2id in PHC text form; never the password.
    password_hash text NOT NULL CHECK (password_hash LIKE '$argon2id$%'),
    -- Short role names, e.g. DOCK. A service identity is never a login.
    roles text[] NOT NULL CHECK (cardinality(roles) > 0 AND NOT 'SERVICE' = ANY (roles)),
    member text CHECK (member ~ '^members/M-[0-9]{4,6}$'),
    active boolean NOT NULL DEFAULT true,
    create_time timestamptz NOT NULL,
    CONSTRAINT login_member_has_role CHECK ((member IS NOT NULL) = ('MEMBER' = ANY (roles)))
);
-- A login is never deleted: its name stands in the records of every service.
GRANT UPDATE (password_hash, roles, member, active) ON login TO gateway_app;

-- Append-only.
CREATE TABLE login_event (
    event_id bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    login text NOT NULL REFERENCES login,
    kind text NOT NULL CHECK (kind IN ('CREATED', 'PASSWORD_SET', 'ROLES_SET', 'DEACTIVATED', 'ACTIVATED',
        'SIGNED_IN', 'SIGN_IN_REFUSED', 'SIGNED_OUT')),
    -- "users/…" of who did it; empty where nobody was known.
    actor text NOT NULL,
    address text NOT NULL,
    detail text NOT NULL,
    event_time timestamptz NOT NULL
);
CREATE INDEX login_event_by_login ON login_event (login, event_id);

CREATE TABLE session (
    -- SHA-256 of the token; the token itself is kept nowhere.
    token_hash bytea PRIMARY KEY CHECK (length(token_hash) = 32),
    login text NOT NULL REFERENCES login,
    open_time timestamptz NOT NULL,
    seen_time timestamptz NOT NULL,
    expire_time timestamptz NOT NULL,
    end_time timestamptz
);
CREATE INDEX session_open_by_login ON session (login) WHERE end_time IS NULL;
CREATE INDEX session_by_expiry ON session (expire_time);
GRANT UPDATE (seen_time, end_time), DELETE ON session TO gateway_app;

-- Counts failures for the throttle; swept after a day.
CREATE TABLE sign_in_attempt (
    attempt_id bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    -- SHA-256 of the login as typed: it need not exist, and may be a password typed into the wrong field.
    login_key bytea NOT NULL CHECK (length(login_key) = 32),
    address text NOT NULL,
    attempt_time timestamptz NOT NULL,
    succeeded boolean NOT NULL DEFAULT false
);
CREATE INDEX sign_in_attempt_by_login ON sign_in_attempt (login_key, attempt_time);
CREATE INDEX sign_in_attempt_by_address ON sign_in_attempt (address, attempt_time);
GRANT UPDATE (succeeded), DELETE ON sign_in_attempt TO gateway_app;
