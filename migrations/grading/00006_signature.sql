-- Signatures of certificates, for whoever is shown one.

-- +goose Up

-- Public keys of every key ever signed with: old certificates stay verifiable after a change of key.
CREATE TABLE signing_key (
    id         text CONSTRAINT signing_key_pk PRIMARY KEY,
    public_key bytea NOT NULL CONSTRAINT signing_key_is_ed25519 CHECK (octet_length(public_key) = 32),
    first_use  timestamptz NOT NULL
);

CREATE TABLE certificate_signature (
    certificate uuid CONSTRAINT certificate_signature_pk PRIMARY KEY REFERENCES certificate,
    key         text NOT NULL CONSTRAINT certificate_signature_key_known REFERENCES signing_key,
    payload     text NOT NULL,
    signature   bytea NOT NULL CONSTRAINT certificate_signature_is_ed25519 CHECK (octet_length(signature) = 64)
);
