-- +goose Up
-- How each depot stood on each day, kept nightly.
CREATE TABLE figures (day TEXT COLLATE "C" NOT NULL, depot_id TEXT NOT NULL REFERENCES depots (id), doc TEXT NOT NULL, PRIMARY KEY (day, depot_id));

-- +goose Down
DROP TABLE figures;
