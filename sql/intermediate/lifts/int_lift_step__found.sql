-- One row per session from which on a lift may have gone on at another level, and span of days in
-- which the sessions since then say so: two levels with one slope hold the sessions of
-- rules.step_weeks on both sides together better than one line, or than a line that bends there.
-- Smaller than a change of level, which starts a run anew: another depth, gym or scale.
-- grain: client_id, exercise, step_on, known_on
-- client_id: the client
-- exercise: the exercise
-- run: number of the run
-- step_on: first session at the other level
-- known_on: session from which on the data say so
-- until_on: session from which on they say something else; null: none yet
-- size_pct: size of the step [%]
-- gain: how much better it explains the sessions, in variances
-- is_certain: whether the lift gets a level of its own from it
with rules as (
    select *,
    from review.rules
),

sessions as (
    select
        client_id,
        exercise,
        day,
        run,
        band,
        raw_value,
        scatter,
        avg(raw_value) over (
            partition by client_id, exercise, run, band
            order by day
            rows between rules.step_min_before preceding and 1 preceding
        ) as mean_before,
        avg(raw_value) over (
            partition by client_id, exercise, run, band
            order by day
            rows between current row and rules.step_min_after - 1 following
        ) as mean_after,
    from int_lift_session__cleaned
    cross join (
        select
            step_min_before,
            step_min_after,
        from rules
    ) as rules
    where raw_value is not null
),

-- a first sieve: the sessions next to a step differ by three quarters of the least one at least
candidates as (
    select sessions.*,
    from sessions
    cross join rules
    where abs(mean_after - mean_before) >= rules.weak_step_pct * 3 / 4
),

around as (
    select
        candidates.client_id,
        candidates.exercise,
        candidates.run,
        candidates.day as step_on,
        candidates.scatter,
        sessions.day,
        (sessions.day - candidates.day) / 7 as t,
        sessions.raw_value - candidates.raw_value as y,
        sessions.day >= candidates.day as is_after,
    from candidates
    cross join rules
    inner join sessions
        on
            candidates.client_id = sessions.client_id
            and candidates.exercise = sessions.exercise
            and candidates.run = sessions.run
            and candidates.band = sessions.band
            and sessions.day between candidates.day - 7 * rules.step_weeks
            and candidates.day + 7 * rules.step_weeks - 1
),

before as (
    select
        client_id,
        exercise,
        step_on,
        count(*) as n_0,
        sum(t) as t_0,
        sum(t * t) as tt_0,
        sum(y) as y_0,
        sum(t * y) as ty_0,
        sum(y * y) as yy_0,
    from around
    where not is_after
    group by all
),

after as (
    select
        client_id,
        exercise,
        run,
        step_on,
        scatter,
        day as known_on,
        lead(day) over (partition by client_id, exercise, step_on order by day) as until_on,
        count(*) over so_far as n_1,
        sum(t) over so_far as t_1,
        sum(t * t) over so_far as tt_1,
        sum(y) over so_far as y_1,
        sum(t * y) over so_far as ty_1,
        sum(y * y) over so_far as yy_1,
    from around
    where is_after
    window so_far as (
        partition by client_id, exercise, step_on
        order by day
        rows between unbounded preceding and current row
    )
),

-- sums about the common mean, those about the two means, and those of time since the step
centred as (
    select
        after.client_id,
        after.exercise,
        after.run,
        after.step_on,
        after.known_on,
        after.until_on,
        after.scatter,
        n_0 + n_1 as n,
        tt_0 + tt_1 - pow(t_0 + t_1, 2) / n as tt,
        ty_0 + ty_1 - (t_0 + t_1) * (y_0 + y_1) / n as ty,
        yy_0 + yy_1 - pow(y_0 + y_1, 2) / n as yy,
        tt_1 - t_1 * t_1 / n as hh,
        tt_1 - t_1 * (t_0 + t_1) / n as th,
        ty_1 - t_1 * (y_0 + y_1) / n as hy,
        tt_0 - t_0 * t_0 / n_0 + tt_1 - t_1 * t_1 / n_1 as within_tt,
        ty_0 - t_0 * y_0 / n_0 + ty_1 - t_1 * y_1 / n_1 as within_ty,
        yy_0 - y_0 * y_0 / n_0 + yy_1 - y_1 * y_1 / n_1 as within_yy,
        y_1 / n_1 - y_0 / n_0 as y_apart,
        t_1 / n_1 - t_0 / n_0 as t_apart,
    from after
    cross join rules
    inner join before
        on
            after.client_id = before.client_id
            and after.exercise = before.exercise
            and after.step_on = before.step_on
    where n_0 >= rules.step_min_before and n_1 >= rules.step_min_after
),

fitted as (
    select
        *,
        tt * hh - th * th as det,
        yy - ty * ty / tt as rest_line,
        case
            when det > 1e-9
                then yy - (ty * (hh * ty - th * hy) + hy * (tt * hy - th * ty)) / det
            else rest_line
        end as rest_bend,
        within_yy - within_ty * within_ty / within_tt as rest_step,
        y_apart - t_apart * within_ty / within_tt as size,
    from centred
    where within_tt > 1e-9
),

measured as (
    select
        fitted.*,
        round(size, 9) as size_pct,
        round(
            (least(rest_line, rest_bend) - rest_step)
            / greatest(rest_step / (n - 3), scatter * scatter),
            9
        ) as gain,
    from fitted
)

select
    measured.client_id,
    measured.exercise,
    measured.run,
    measured.step_on,
    measured.known_on,
    measured.until_on,
    measured.size_pct,
    measured.gain,
    measured.gain >= rules.step_gain
    and abs(measured.size_pct)
    >= greatest(rules.step_low_pct, rules.step_scatters * measured.scatter) as is_certain,
from measured
cross join rules
where measured.gain > rules.weak_step_gain and abs(measured.size_pct) >= rules.weak_step_pct
