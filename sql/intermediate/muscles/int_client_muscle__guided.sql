-- One row per client and muscle: the guide that applies, the client's own or the default.
-- grain: client_id, muscle
-- client_id: the client
-- muscle: the muscle
-- guide_low: low end a week; null: none [sets]
-- guide_high: high end a week [sets]
-- session_low: low end a session [sets]
-- session_high: high end a session [sets]
-- low_end_group: name of the muscles whose sets together meet the default low end (back, or the
-- muscle itself); null: no low end by default, or a guide of the client's own
with clients as (
    select client_id,
    from int_client__logged
)

select
    clients.client_id,
    muscles.muscle,
    coalesce(
        guides.week_low,
        case when muscles.low_end_group is not null then rules.guide_week_low end
    ) as guide_low,
    coalesce(guides.week_high, rules.guide_week_high) as guide_high,
    coalesce(guides.session_low, rules.guide_session_low) as session_low,
    coalesce(guides.session_high, rules.guide_session_high) as session_high,
    case when guides.week_low is null then muscles.low_end_group end as low_end_group,
from clients
cross join stg_muscles as muscles
cross join review.rules as rules
left join stg_guides as guides
    on clients.client_id = guides.client_id and muscles.muscle = guides.muscle
