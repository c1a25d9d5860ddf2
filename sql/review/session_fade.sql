-- One row per client, muscle, kind of comparison and place of a set, over the rules.fade_days to the
-- client's last logged day: how much of the first set's output is left. It shows whether the 12th set
-- is worth its place.
-- Geometric mean of the ratios of strength index, with Student's 95 % interval over sessions:
-- comparisons of one day go together, and across the error of the days when done first is in it. Sets
-- with recorded effort on both sides, where ten sessions have them. How often the interval holds the
-- true loss: tests/README.md. Fade is normal: it depends on rest (Scudese et al. 2015).
-- grain: client_id, muscle, kind, nth
-- client_id: the client
-- muscle: the muscle, trained directly
-- kind: within: the nth hard set of an exercise over its first that day; across: an exercise done
-- when the muscle had n − 1 sets before it, over its own days when done first
-- nth: place of the set
-- sets: sets compared, one a session and exercise [sets]
-- relative_output: strength index over that of the first, 1: as good as the first
-- low: lower end of the 95 % interval
-- high: upper end of the 95 % interval
-- is_lower_bound: whether effort was not recorded: the fade is at least this
with chosen as (
    select
        compared.client_id,
        compared.muscle,
        compared.kind,
        compared.nth,
        compared.recorded_sessions < rules.fade_min_sessions as is_lower_bound,
        case when is_lower_bound then pairs else recorded_pairs end as sets,
        case when is_lower_bound then sessions else recorded_sessions end as sessions,
        case when is_lower_bound then log_mean else recorded_log_mean end as log_mean,
        case when is_lower_bound then log_error else recorded_log_error end as log_error,
        rules.fade_min_sessions,
    from int_muscle_nth__compared as compared
    cross join review.rules as rules
),

means as (
    select
        *,
        1.959963985 as normal_point,  -- 97.5 % point of the normal distribution
    from chosen
    where sessions >= fade_min_sessions and sessions > 1
),

-- Student's t from the normal point (Cornish and Fisher; Abramowitz and Stegun 26.7.5)
intervals as (
    select
        *,
        log_error * (
            normal_point
            + (pow(normal_point, 3) + normal_point) / (4 * (sessions - 1))
            + (5 * pow(normal_point, 5) + 16 * pow(normal_point, 3) + 3 * normal_point)
            / (96 * pow(sessions - 1, 2))
            + (
                3 * pow(normal_point, 7)
                + 19 * pow(normal_point, 5)
                + 17 * pow(normal_point, 3)
                - 15 * normal_point
            ) / (384 * pow(sessions - 1, 3))
        ) as half_width,
    from means
)

select
    client_id::varchar as client_id,
    muscle,
    kind,
    nth,
    sets::bigint as sets,
    round(exp(log_mean), 9) as relative_output,
    round(exp(log_mean - half_width), 9) as low,
    round(exp(log_mean + half_width), 9) as high,
    is_lower_bound,
from intervals
