-- One row per client: since when the log holds sets, and until when exports reach. Every figure of
-- the client is judged at the last covered day, which may lie before the as-of day.
-- grain: client_id
-- client_id: the client
-- first_on: first logged day
-- last_on: last logged day
-- covered_on: last covered day: the last day of any export that holds sets of the client, at most
-- the as-of day
-- rate_days: span of the weekly rate: whole rounds of the rotation [days]
-- unread_share: share of the lines of these exports that could not be read [share]
select
    clients.client_id::varchar as client_id,
    clients.first_on,
    clients.last_on,
    clients.covered_on,
    rounds.rate_days,
    round(clients.unread_share, 9) as unread_share,
from int_client__logged as clients
inner join int_client__rounded as rounds
    on clients.client_id = rounds.client_id and clients.covered_on = rounds.look_on
