-- One row: the session that comes next, and what says so. Of a rotation counted in sessions, the one
-- that many sessions back; of one counted in days, or of the weekdays where there is none, the first
-- day to come on which at least rules.next_day_share of the rounds had a session; where neither holds,
-- the kind of session trained least recently. No row: nothing in rules.rotation_days.
-- grain: one row
-- client_id: the client
-- rests_on: rotation, weekdays or kinds
-- session_on: the last session of that kind: what the sheet is made of
-- last_on: the client's last session
-- round_days: length of the rotation; null: none [days]
-- round_sessions: its sessions; null: none [sessions]
-- trained_rounds: rounds with a session on that day; null: not counted in days [rounds]
-- rounds: rounds looked at; null: not counted in days [rounds]
-- parts: its body parts, most sets first
with sessions as (
    select
        lift_session.day,
        row_number() over (order by lift_session.day) as session_no,
    from review.lift_session as lift_session
    cross join review.rules as rules
    inner join review.coverage as coverage on lift_session.client_id = coverage.client_id
    semi join asked_next on lift_session.client_id = asked_next.client_id
    where
        lift_session.day <= coverage.covered_on
        and lift_session.day > coverage.covered_on - rules.rotation_days
    group by lift_session.day
    having sum(lift_session.hard_sets) > 0
),

last_session as (
    select
        max(day) as last_on,
        min(day) as first_on,
        max(session_no) as sessions,
    from sessions
    having count(*) > 0
),

rounds as (
    select
        rotation.days,
        rotation.sessions,
        -- a rotation counted in days has a mean number of sessions, one counted in sessions a whole one
        rotation.sessions = round(rotation.sessions) as is_by_sessions,
        coalesce(round(rotation.days), 7)::integer as period,
    from review.rotation as rotation
    semi join asked_next on rotation.client_id = asked_next.client_id
),

by_sessions as (
    select
        1 as rank,
        sessions.day,
    from sessions
    cross join last_session
    inner join rounds
        on
            rounds.is_by_sessions
            and sessions.session_no = last_session.sessions + 1 - rounds.sessions
),

-- each day of the round to come, and that day in the rounds before
coming_days as (
    select
        ahead.days_ahead,
        last_session.last_on + ahead.days_ahead::integer - back.nth::integer * rounds.period as day,
    from last_session
    cross join rounds
    cross join range(1, rounds.period + 1) as ahead (days_ahead)
    cross join review.rules as rules
    cross join range(1, rules.rotation_days) as back (nth)
    where
        not coalesce(rounds.is_by_sessions, false)
        and last_session.last_on + ahead.days_ahead::integer - back.nth::integer * rounds.period
        >= last_session.first_on
),

by_days as (
    select
        2 as rank,
        max(sessions.day) as day,
        count(sessions.day) as trained_rounds,
        count(*) as rounds,
        coming_days.days_ahead,
    from coming_days
    cross join review.rules as rules
    left join sessions on coming_days.day = sessions.day
    group by coming_days.days_ahead, rules.next_day_share
    having
        count(*) > 1
        and count(sessions.day) >= 2
        and count(sessions.day) >= rules.next_day_share * count(*)
    qualify row_number() over (order by coming_days.days_ahead) = 1
),

part_sets as (
    select
        sessions.day,
        muscles.body_part,
        min(muscles.position) as position,
        sum(muscle_day.direct_sets) as sets,
    from sessions
    inner join review.muscle_day as muscle_day on sessions.day = muscle_day.day
    inner join review.muscles as muscles on muscle_day.muscle = muscles.muscle
    semi join asked_next on muscle_day.client_id = asked_next.client_id
    where muscle_day.direct_sets > 0
    group by all
),

part_shares as (
    select
        *,
        sets / sum(sets) over (partition by day) as share,
    from part_sets
),

kinds as (
    select
        part_shares.day,
        string_agg(part_shares.body_part, ', ' order by part_shares.position) filter (
            where part_shares.share >= rules.next_part_share
        ) as kind,
        string_agg(
            part_shares.body_part, ', ' order by part_shares.sets desc, part_shares.position
        ) as parts,
    from part_shares
    cross join review.rules as rules
    group by part_shares.day
),

-- a kind that came once only is taken where none came twice
by_kind as (
    select
        3 as rank,
        max(day) as day,
    from kinds
    group by kind
    qualify row_number() over (order by count(*) < 2, max(day)) = 1
),

ways as (
    select
        rank,
        day,
    from by_sessions
    union all
    select
        rank,
        day,
    from by_days
    union all
    select
        rank,
        day,
    from by_kind
    union all
    select
        4 as rank,
        last_on as day,
    from last_session
),

chosen as (
    select
        min(rank) as rank,
        arg_min(day, rank) as day,
    from ways
    having count(*) > 0
)

select
    asked_next.client_id,
    case
        when chosen.rank > 2 then 'kinds'
        when rounds.days is null then 'weekdays'
        else 'rotation'
    end as rests_on,
    chosen.day as session_on,
    last_session.last_on,
    case when chosen.rank < 3 then rounds.days end as round_days,
    case when chosen.rank < 3 then rounds.sessions end as round_sessions,
    case when chosen.rank = 2 then by_days.trained_rounds end as trained_rounds,
    case when chosen.rank = 2 then by_days.rounds end as rounds,
    kinds.parts,
from chosen
cross join asked_next
cross join last_session
cross join rounds
left join by_days on true
left join kinds on chosen.day = kinds.day
