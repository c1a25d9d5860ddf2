-- One row per dated phase of a client.
-- grain: client_id, kind, from_on
-- client_id: the client
-- kind: cut, gain, deload, pause or care
-- from_on: first day
-- to_on: last day; a phase without an end runs on
select
    config_phases.client_id,
    config_phases.kind,
    config_phases.from_on,
    coalesce(config_phases.to_on, date '9999-12-31') as to_on,
from config_phases
semi join config_scope on config_phases.client_id = config_scope.client_id
