-- One row per version that this run read: what it gave. Loading fills it; empty where nothing was
-- loaded, as in a check.
-- grain: load_id
-- load_id: the version
-- set_lines: lines that gave sets
-- weighed_lines: lines that gave a weigh-in only
-- standing_sets: its sets, counted in the ledger after the upsert [sets]
create temp table if not exists receipts (
    load_id integer,
    set_lines integer,
    weighed_lines integer,
    standing_sets bigint,
);
