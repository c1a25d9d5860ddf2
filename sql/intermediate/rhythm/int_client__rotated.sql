-- One row per client and look: the rotation that the last rules.rotation_days of training follow, if
-- they follow one; see rotation.
-- grain: client_id, look_on
-- client_id: the client
-- look_on: the look
-- is_by_days: whether it is counted in days, else in sessions; null: no fixed rotation
-- lag_length: its length so counted; null: no fixed one
-- sessions: sessions in one rotation, a mean where it runs by days; null: no fixed one [sessions]
-- days: length of one rotation, a mean where it runs by sessions [days]
-- similarity: mean likeness of sessions one rotation apart; without a fixed rotation the best
-- found; null: too few sessions [cosine]
with sessions as (
    select *,
    from int_client_day__parted
),

session_pairs as (
    select
        earlier.client_id,
        earlier.day as from_on,
        later.day as to_on,
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
        earlier.day as from_on,
        later.day as to_on,
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
        looks.client_id,
        looks.look_on,
        pairs.counted_in,
        pairs.lag_length,
        round(avg(pairs.days_apart), 9) as days,
        round(avg(pairs.sessions_apart), 9) as sessions,
        round(avg(pairs.similarity), 9) as similarity,
    from pairs
    cross join review.rules as rules
    inner join int_client__looked as looks
        on
            pairs.client_id = looks.client_id
            and pairs.from_on > looks.look_on - rules.rotation_days
            and pairs.to_on <= looks.look_on
    group by
        looks.client_id,
        looks.look_on,
        pairs.counted_in,
        pairs.lag_length,
        rules.rotation_min_pairs
    having count(*) >= rules.rotation_min_pairs
),

ranked_lags as (
    select
        lags.*,
        max(similarity) over (partition by client_id, look_on, counted_in) as best_similarity,
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
            partition by client_id, look_on, counted_in
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
            partition by client_id, look_on
            order by
                similarity
                + case when counted_in = 'sessions' then rules.rotation_slack + 1e-9 else 0 end desc
        ) = 1
),

best_found as (
    select
        client_id,
        look_on,
        max(similarity) as similarity,
    from lags
    group by all
)

select
    looks.client_id,
    looks.look_on,
    rotations.counted_in = 'days' as is_by_days,
    rotations.lag_length,
    rotations.sessions,
    rotations.days,
    coalesce(rotations.similarity, best_found.similarity) as similarity,
from int_client__looked as looks
left join rotations
    on looks.client_id = rotations.client_id and looks.look_on = rotations.look_on
left join best_found
    on looks.client_id = best_found.client_id and looks.look_on = best_found.look_on
