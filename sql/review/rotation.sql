-- One row per client: the rotation that the last 56 days of training follow, if they follow one.
-- The mean cosine similarity of the body-part shares of sessions so many sessions, or so many days,
-- apart; the shortest within rules.rotation_slack of the best, by sessions unless by days is better
-- by more than that. Our own rule; how often it is right: tests/README.md.
-- grain: client_id
-- client_id: the client
-- sessions: sessions in one rotation, a mean where it runs by days; null: no fixed one [sessions]
-- days: length of one rotation, a mean where it runs by sessions [days]
-- rest_days: its days without a session [days]
-- similarity: mean likeness of sessions one rotation apart, 0 to 1; without a fixed rotation the
-- best found; null: too few sessions [cosine]
-- parts: body parts of the sessions of the last rotation, or "no fixed rotation"
with rotations as (
    select rotated.*,
    from int_client__rotated as rotated
    semi join int_client__looked as looks
        on
            rotated.client_id = looks.client_id
            and rotated.look_on = looks.look_on
            and looks.is_last
),

sessions as (
    select
        *,
        max(session_no) over (partition by client_id) - session_no as sessions_ago,
        max(day) over (partition by client_id) - day as days_ago,
    from int_client_day__parted
),

last_parts as (
    select
        rotations.client_id,
        string_agg(sessions.parts, ' | ' order by sessions.day) as parts,
    from rotations
    inner join sessions
        on
            rotations.client_id = sessions.client_id
            and case when rotations.is_by_days then sessions.days_ago else sessions.sessions_ago end
            < rotations.lag_length
    group by all
)

select
    rotations.client_id::varchar as client_id,
    rotations.sessions,
    rotations.days,
    round(rotations.days - rotations.sessions, 9) as rest_days,
    rotations.similarity,
    coalesce(last_parts.parts, 'no fixed rotation') as parts,
from rotations
left join last_parts on rotations.client_id = last_parts.client_id
