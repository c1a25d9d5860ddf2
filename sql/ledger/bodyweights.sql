-- One row per weigh-in: from a column of an export, from bodyweight.csv or from setledger.toml.
-- grain: client_id, performed_on, source, load_id, source_line
-- client_id: the client
-- performed_on: day of the weigh-in; null: holds for every day without one nearby (setledger.toml)
-- bodyweight_kg: bodyweight [kg]
-- source: name of the source, "bodyweight.csv" or "setledger.toml"
-- load_id: the version that brought it; null for the workspace's own files
-- source_line: line in the export or in bodyweight.csv; null for setledger.toml
-- replaced_by: the version that replaced the row, else null
create table if not exists ledger.bodyweights (
    client_id varchar not null,
    performed_on date,
    bodyweight_kg double not null,
    source varchar not null,
    load_id integer,
    source_line integer,
    replaced_by integer,
);
