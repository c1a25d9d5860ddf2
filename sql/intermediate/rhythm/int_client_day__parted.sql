-- One row per client and day with a direct hard set, over the rules.rotation_days to the client's
-- first look and on: what the session was made of.
-- grain: client_id, day
-- client_id: the client
-- day: the day
-- session_no: number of the session in the span, from 1
-- stretch: number of the stretch without a gap of over rules.rotation_gap_days
-- set_counts: direct hard sets of each body part, in alphabetical order of the parts
-- parts: its body parts, most sets first
with sessions as (
    select
        counted.client_id,
        counted.day,
        counted.exercise,
        counted.hard_sets,
    from int_lift_session__counted as counted
    inner join int_client__looked as looks
        on counted.client_id = looks.client_id and looks.nth = 1
    cross join review.rules as rules
    where counted.hard_sets > 0 and counted.day > looks.look_on - rules.rotation_days
),

exercise_parts as (
    select distinct
        exercise_muscles.exercise,
        muscles.body_part,
    from review.exercise_muscles as exercise_muscles
    inner join stg_muscles as muscles on exercise_muscles.muscle = muscles.muscle
    where exercise_muscles.role = 'direct'
),

part_sums as (
    select
        sessions.client_id,
        sessions.day,
        exercise_parts.body_part,
        sum(sessions.hard_sets) as hard_sets,
    from sessions
    inner join exercise_parts on sessions.exercise = exercise_parts.exercise
    group by all
),

part_grid as (
    select
        days.client_id,
        days.day,
        parts.body_part,
        coalesce(part_sums.hard_sets, 0)::double as hard_sets,
    from (select distinct
client_id,
day,
from part_sums) as days
    cross join (select distinct body_part, from stg_muscles) as parts
    left join part_sums
        on
            days.client_id = part_sums.client_id
            and days.day = part_sums.day
            and parts.body_part = part_sums.body_part
),

session_vectors as (
    select
        client_id,
        day,
        list(hard_sets order by body_part) as set_counts,
        string_agg(body_part, ', ' order by hard_sets desc, body_part) filter (
            where hard_sets > 0
        ) as parts,
    from part_grid
    group by all
),

gaps as (
    select
        session_vectors.*,
        row_number() over client_days as session_no,
        coalesce(
            day - lag(day) over client_days > rules.rotation_gap_days, false
        ) as is_after_gap,
    from session_vectors
    cross join review.rules as rules
    window client_days as (partition by client_id order by day)
)

select
    client_id,
    day,
    session_no,
    sum(is_after_gap::integer) over (partition by client_id order by day) as stretch,
    set_counts,
    parts,
from gaps
