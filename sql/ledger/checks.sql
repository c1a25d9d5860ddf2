-- One row per expectation of the data contract and version (or the whole ledger): its verdict.
-- grain: load_id, expectation, column_name
-- load_id: the version concerned; null: the ledger as a whole
-- expectation: what was expected, in words
-- column_name: the column, where the expectation is of one
-- is_met: whether it holds
-- unexpected: how many rows do not meet it [rows]
-- share: their share of the rows looked at [share]
create table if not exists ledger.checks (
    load_id integer,
    expectation varchar not null,
    column_name varchar,
    is_met boolean not null,
    unexpected bigint not null,
    share double not null,
);
