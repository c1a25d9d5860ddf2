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
with sessions as (
    select *,
    from int_client_day__parted
),

session_pairs as (
    select
        earlier.client_id,
        'sessions' as counted_in,
        later.session_no - earlier.session_no as lag_length,
        later.day - earlier.day as days_apart,
        later.session_no - earlier.session_no as sessions_apart,
        list_cosine_similarity(earlier.set_counts, later.set_counts) as similarity,
    from sessions as earlier
    cross join review.rules as rules
    inner join sessions as later
        on
            earlier.client_id = later.client_id
            and earlier.stretch = later.stretch
            and later.session_no > earlier.session_no
            and later.session_no <= earlier.session_no + rules.rotation_sessions_max
),

day_pairs as (
    select
        earlier.client_id,
        'days' as counted_in,
        later.day - earlier.day as lag_length,
        later.day - earlier.day as days_apart,
        later.session_no - earlier.session_no as sessions_apart,
        list_cosine_similarity(earlier.set_counts, later.set_counts) as similarity,
    from sessions as earlier
    cross join review.rules as rules
    inner join sessions as later
        on
            earlier.client_id = later.client_id
            and earlier.stretch = later.stretch
            and later.day >= earlier.day + rules.rotation_days_min
            and later.day <= earlier.day + rules.rotation_days_max
),

pairs as (
    select *, from session_pairs
    union all by name
    select *, from day_pairs
),

lags as (
    select
        pairs.client_id,
        pairs.counted_in,
        pairs.lag_length,
        round(avg(pairs.days_apart), 9) as days,
        round(avg(pairs.sessions_apart), 9) as sessions,
        round(avg(pairs.similarity), 9) as similarity,
    from pairs
    cross join review.rules as rules
    group by pairs.client_id, pairs.counted_in, pairs.lag_length, rules.rotation_min_pairs
    having count(*) >= rules.rotation_min_pairs
),

ranked_lags as (
    select
        lags.*,
        max(similarity) over (partition by client_id, counted_in) as best_similarity,
        max(similarity) over (partition by client_id) as best_of_all,
    from lags
),

-- the shortest near the best, counted in sessions and in days
shortest_lags as (
    select ranked_lags.*,
    from ranked_lags
    cross join review.rules as rules
    where
        similarity >= best_similarity - rules.rotation_slack - 1e-9
        and similarity >= rules.rotation_similarity
    qualify
        row_number() over (
            partition by client_id, counted_in
            order by lag_length
        ) = 1
),

-- the better of the two: sessions, unless days are better by more than the slack, so that full body
-- on fixed weekdays is one session every 2.3 days, not a rotation of two days
rotations as (
    select shortest_lags.*,
    from shortest_lags
    cross join review.rules as rules
    qualify
        row_number() over (
            partition by client_id
            order by
                similarity
                + case when counted_in = 'sessions' then rules.rotation_slack + 1e-9 else 0 end desc
        ) = 1
),

last_parts as (
    select
        rotations.client_id,
        string_agg(sessions.parts, ' | ' order by sessions.day) as parts,
    from rotations
    inner join (
        select
            client_id,
            max(session_no) as session_no,
            max(day) as day,
        from sessions
        group by all
    ) as last_sessions on rotations.client_id = last_sessions.client_id
    inner join sessions
        on
            rotations.client_id = sessions.client_id
            and case rotations.counted_in
                when 'sessions' then last_sessions.session_no - sessions.session_no
                else last_sessions.day - sessions.day
            end < rotations.lag_length
    group by all
),

best_found as (
    select
        client_id,
        max(similarity) as similarity,
    from lags
    group by all
)

select
    clients.client_id::varchar as client_id,
    rotations.sessions,
    rotations.days,
    round(rotations.days - rotations.sessions, 9) as rest_days,
    coalesce(rotations.similarity, best_found.similarity) as similarity,
    coalesce(last_parts.parts, 'no fixed rotation') as parts,
from int_client__logged as clients
left join rotations on clients.client_id = rotations.client_id
left join last_parts on clients.client_id = last_parts.client_id
left join best_found on clients.client_id = best_found.client_id
