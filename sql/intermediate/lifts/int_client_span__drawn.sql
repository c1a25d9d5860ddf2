-- One row per span of days in which all lifts of a client are judged together: those that end with
-- the client's last day before a look, and the two on both sides of a change that is followed.
-- grain: client_id, pair, from_on
-- client_id: the client
-- pair: trend, short, or what a change is known by in int_change__followed
-- sides: spans of the pair; a lift counts where it can be judged in each of them
-- from_on: first day
-- until_on: last day
-- two looks without a session between them share their spans
select distinct
    looks.client_id,
    unnest(['trend', 'short']) as pair,
    1 as sides,
    looks.last_on - unnest([rules.trend_days, rules.joint_short_days]) + 1 as from_on,
    looks.last_on as until_on,
from int_client__looked as looks
cross join review.rules as rules
union all
select
    client_id,
    change as pair,
    2 as sides,
    before_from as from_on,
    changed_on - 1 as until_on,
from int_change__followed
where before_from < changed_on
union all
select
    client_id,
    change as pair,
    2 as sides,
    changed_on as from_on,
    lifts_until as until_on,
from int_change__followed
where changed_on <= lifts_until
