-- One row per dated phase of a client, as setledger.toml names them: what rates leave out (deload)
-- and where nothing is judged (pause, care).
-- grain: client_id, kind, from_on
-- client_id: the client
-- kind: cut, gain, deload, pause or care
-- from_on: first day
-- to_on: last day; 9999-12-31: it goes on
select
    client_id,
    kind,
    from_on,
    max(to_on) as to_on,
from stg_phases
group by all
