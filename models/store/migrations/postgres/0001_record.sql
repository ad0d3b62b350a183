-- +goose Up
-- Names and numbers sort by code point, as in SQLite, whatever the locale of the server.
CREATE TABLE depots (id TEXT PRIMARY KEY, name TEXT COLLATE "C" NOT NULL, doc TEXT NOT NULL);
CREATE UNIQUE INDEX depots_name ON depots (name);
CREATE TABLE depot_policies (depot_id TEXT NOT NULL REFERENCES depots (id), class TEXT NOT NULL, doc TEXT NOT NULL, PRIMARY KEY (depot_id, class));
CREATE TABLE vehicles (
  id TEXT PRIMARY KEY, depot_id TEXT NOT NULL REFERENCES depots (id), number TEXT COLLATE "C" NOT NULL, class TEXT NOT NULL, retired BOOLEAN NOT NULL,
  worst BIGINT NOT NULL, since BIGINT NOT NULL, findings BIGINT NOT NULL, due_at BIGINT, next_check BIGINT, pull_at BIGINT,
  search TEXT NOT NULL, doc TEXT NOT NULL, state TEXT NOT NULL);
CREATE UNIQUE INDEX vehicles_number ON vehicles (depot_id, number);
CREATE INDEX vehicles_attention ON vehicles (worst, since, number, id, depot_id, retired) WHERE findings > 0;
CREATE INDEX vehicles_depot_attention ON vehicles (depot_id, worst, since, number, id, retired) WHERE findings > 0;
CREATE INDEX vehicles_next_check ON vehicles (next_check) WHERE next_check IS NOT NULL;
CREATE INDEX vehicles_pull ON vehicles (pull_at, number, id, depot_id, retired) WHERE pull_at IS NOT NULL;
CREATE INDEX vehicles_depot_pull ON vehicles (depot_id, pull_at, number, id, retired) WHERE pull_at IS NOT NULL;
CREATE INDEX vehicles_list ON vehicles (number, id, depot_id, retired);
CREATE TABLE tires (
  id TEXT PRIMARY KEY, depot_id TEXT NOT NULL REFERENCES depots (id), number TEXT COLLATE "C" NOT NULL, status TEXT NOT NULL,
  vehicle_id TEXT REFERENCES vehicles (id), position TEXT COLLATE "C" NOT NULL, search TEXT NOT NULL, doc TEXT NOT NULL, state TEXT NOT NULL);
CREATE UNIQUE INDEX tires_number ON tires (depot_id, number);
CREATE INDEX tires_place ON tires (vehicle_id, position) WHERE vehicle_id IS NOT NULL;
CREATE INDEX tires_list ON tires (number, id, depot_id, status);
CREATE TABLE wheels (id TEXT PRIMARY KEY, depot_id TEXT NOT NULL REFERENCES depots (id), number TEXT COLLATE "C" NOT NULL, doc TEXT NOT NULL);
CREATE UNIQUE INDEX wheels_number ON wheels (depot_id, number);
CREATE TABLE events (
  id TEXT PRIMARY KEY, kind TEXT NOT NULL, vehicle_id TEXT REFERENCES vehicles (id), at BIGINT NOT NULL, recorded_at BIGINT NOT NULL,
  superseded_by TEXT NOT NULL, doc TEXT NOT NULL);
CREATE INDEX events_vehicle ON events (vehicle_id, at, recorded_at, id);
CREATE TABLE event_tires (event_id TEXT NOT NULL REFERENCES events (id), tire_id TEXT NOT NULL REFERENCES tires (id), PRIMARY KEY (tire_id, event_id));
CREATE TABLE event_wheels (event_id TEXT NOT NULL REFERENCES events (id), wheel_id TEXT NOT NULL REFERENCES wheels (id), PRIMARY KEY (wheel_id, event_id));
CREATE TABLE readings (
  event_id TEXT NOT NULL REFERENCES events (id), tire_id TEXT NOT NULL REFERENCES tires (id), vehicle_id TEXT NOT NULL, position TEXT NOT NULL,
  at BIGINT NOT NULL, odometer_mm BIGINT, min_nm BIGINT, mean_nm BIGINT, pressure_kpa DOUBLE PRECISION, PRIMARY KEY (event_id, position));
CREATE TABLE fitments (
  id TEXT PRIMARY KEY, tire_id TEXT NOT NULL REFERENCES tires (id), vehicle_id TEXT NOT NULL REFERENCES vehicles (id), position TEXT NOT NULL,
  from_at BIGINT NOT NULL, to_at BIGINT, doc TEXT NOT NULL);
CREATE INDEX fitments_tire ON fitments (tire_id, from_at);
CREATE INDEX fitments_vehicle ON fitments (vehicle_id, from_at);
CREATE TABLE findings (
  id TEXT PRIMARY KEY, depot_id TEXT NOT NULL REFERENCES depots (id), vehicle_id TEXT NOT NULL REFERENCES vehicles (id), code TEXT NOT NULL,
  urgency BIGINT NOT NULL, since BIGINT NOT NULL, opened_at BIGINT NOT NULL, worse_at BIGINT, due_at BIGINT, closed_at BIGINT, search TEXT NOT NULL, doc TEXT NOT NULL);
CREATE INDEX findings_vehicle ON findings (vehicle_id) WHERE closed_at IS NULL;
CREATE INDEX findings_open ON findings (urgency, since, id, depot_id) WHERE closed_at IS NULL;
CREATE INDEX findings_depot_open ON findings (depot_id, urgency, since, id, vehicle_id) WHERE closed_at IS NULL;
CREATE INDEX findings_code ON findings (code, urgency, since, id) WHERE closed_at IS NULL;
CREATE INDEX findings_opened ON findings (opened_at, depot_id) WHERE closed_at IS NULL;
CREATE INDEX findings_worse ON findings (worse_at, depot_id) WHERE worse_at IS NOT NULL AND closed_at IS NULL;
CREATE INDEX findings_closed ON findings (closed_at, id) WHERE closed_at IS NOT NULL;
CREATE TABLE photos (id TEXT PRIMARY KEY, vehicle_id TEXT NOT NULL REFERENCES vehicles (id), doc TEXT NOT NULL, data BYTEA NOT NULL);
CREATE TABLE users (id TEXT PRIMARY KEY, email TEXT NOT NULL, name TEXT COLLATE "C" NOT NULL, doc TEXT NOT NULL);
CREATE UNIQUE INDEX users_email ON users (email);
CREATE TABLE tokens (id TEXT PRIMARY KEY, user_id TEXT NOT NULL REFERENCES users (id), hash TEXT NOT NULL, created_at BIGINT NOT NULL, doc TEXT NOT NULL);
CREATE UNIQUE INDEX tokens_hash ON tokens (hash);
CREATE TABLE changes (seq BIGINT GENERATED ALWAYS AS IDENTITY PRIMARY KEY, at BIGINT NOT NULL, changed_by TEXT NOT NULL, entity TEXT NOT NULL, entity_id TEXT NOT NULL, doc TEXT NOT NULL);
CREATE INDEX changes_entity ON changes (entity_id, entity, seq);
-- Which depots a change concerns; one that concerns all of them is not here.
CREATE TABLE change_depots (depot_id TEXT NOT NULL, seq BIGINT NOT NULL REFERENCES changes (seq), PRIMARY KEY (depot_id, seq));
CREATE INDEX change_depots_seq ON change_depots (seq, depot_id);
CREATE TABLE receipts (id TEXT PRIMARY KEY, fingerprint TEXT NOT NULL, at BIGINT NOT NULL);
CREATE TABLE digest_slots (depot_id TEXT NOT NULL REFERENCES depots (id), slot TEXT COLLATE "C" NOT NULL, doc TEXT NOT NULL, PRIMARY KEY (depot_id, slot));
CREATE TABLE learnings (id TEXT PRIMARY KEY, doc TEXT NOT NULL);
CREATE TABLE sessions (token TEXT PRIMARY KEY, data BYTEA NOT NULL, expiry BIGINT NOT NULL);
CREATE INDEX sessions_expiry ON sessions (expiry);

-- +goose Down
DROP TABLE sessions;
DROP TABLE learnings;
DROP TABLE digest_slots;
DROP TABLE receipts;
DROP TABLE change_depots;
DROP TABLE changes;
DROP TABLE tokens;
DROP TABLE users;
DROP TABLE photos;
DROP TABLE findings;
DROP TABLE fitments;
DROP TABLE readings;
DROP TABLE event_wheels;
DROP TABLE event_tires;
DROP TABLE events;
DROP TABLE wheels;
DROP TABLE tires;
DROP TABLE vehicles;
DROP TABLE depot_policies;
DROP TABLE depots;
