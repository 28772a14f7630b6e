-- +goose Up

-- Empty packages whose average was taken off the gross weights of a sample; none where net weights were given.
ALTER TABLE net_content_check ADD COLUMN tares bigint[] NOT NULL DEFAULT '{}';
