-- One row per version of an export that was read: a file's content, read with one mapping.
-- grain: load_id
-- load_id: number of the version, counted from 1 in the order of reading
-- source: name of the source (the mapping's name)
-- path: file as named in the workspace when it was read
-- sha256: digest of the file's bytes
-- mapping_sha256: digest of the mapping, the client spellings and the reader's version
-- bytes: size of the file [bytes]
-- encoding: character encoding that it was read with
-- delimiter: character between its cells
-- state: loaded, held (waits for `load --accept`), replaced (a later version covers it) or unloaded
-- first_on: earliest day in it
-- last_on: latest day in it
-- lines_read: records after the header with a cell that is not empty [lines]
-- lines_loaded: records that gave sets or a weigh-in [lines]
-- lines_set_aside: records in ledger.set_aside [lines]
-- lines_skipped: preamble, header, blank lines, and rows that are no sets by the mapping [lines]
-- sets_loaded: sets that its records gave [sets]
-- loaded_at: moment of reading (UTC)
create table if not exists ledger.loads (
    load_id integer not null,
    source varchar not null,
    path varchar not null,
    sha256 varchar not null,
    mapping_sha256 varchar not null,
    bytes bigint not null,
    encoding varchar,
    delimiter varchar,
    state varchar not null,
    first_on date,
    last_on date,
    lines_read integer not null,
    lines_loaded integer not null,
    lines_set_aside integer not null,
    lines_skipped integer not null,
    sets_loaded integer not null,
    loaded_at timestamp not null,
);
