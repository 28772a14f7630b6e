-- Barrels are found by the tag a scanner reads, as people on the floor know them.

-- +goose Up
CREATE INDEX barrel_by_tag ON barrel (drum_tag);
CREATE INDEX split_by_tag ON split (drum_tag);
