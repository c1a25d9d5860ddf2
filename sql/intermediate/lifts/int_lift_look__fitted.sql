-- One row per look: the courses that its sessions may follow, each fitted by least squares with a
-- height of its own for each group: a line; bends so many weeks before the look; curves of gains that
-- slow down by themselves, two that die away and one by logs of weeks; a line with the possible step;
-- and, to see since when nothing moves, the lines through the last spans alone.
-- grain: look
-- look: number of the look
-- n: sessions
-- line: rest (sum of squares about it), rate [%/week], factor (variance of the rate by that of sessions)
-- step: the same with the possible step; null: none, or smaller than rules.weak_step_pct
-- bends: rest, place (weeks since the bend), n (sessions since), rate, early_rate before, factor
-- spans: weeks, n, rate, factor of the line through the last weeks alone
-- curves: rest, place (1, 2 die away, 3 by logs), rate over the rules.curve_end_weeks, early_rate over
-- the rules.curve_early_weeks before, factor; only those that rise
with rules as (
    select *,
    from review.rules
),

-- sums about the mean of each group
wholes as (
    select
        sums.look,
        any_value(looks.until_on - looks.first_on) / 7 as log_weeks,
        any_value(looks.until_on - looks.run_from) / 7 as run_weeks,
        sum(sums.n) as n,
        sum(tt - t * t / n) as tt,
        sum(ty - t * y / n) as ty,
        sum(yy - y * y / n) as yy,
        sum(quick_ee - quick_e * quick_e / n) as quick_ee,
        sum(quick_ey - quick_e * y / n) as quick_ey,
        sum(slow_ee - slow_e * slow_e / n) as slow_ee,
        sum(slow_ey - slow_e * y / n) as slow_ey,
        sum(log_ee - log_e * log_e / n) as log_ee,
        sum(log_ey - log_e * y / n) as log_ey,
        sum(step_n - step_n * step_n / n) as step_nn,
        sum(step_t - step_n * t / n) as step_nt,
        sum(step_y - step_n * y / n) as step_ny,
    from int_lift_look__summed as sums
    inner join int_lift_look__drawn as looks on sums.look = looks.look
    group by all
    having sum(tt - t * t / n) > 1e-9
),

-- h: weeks since the bend, 0 before it
endings as (
    select
        whole.look,
        ending.weeks,
        sum(ending.n) as n_end,
        sum(ending.tt - ending.t * ending.t / ending.n) as tt_end,
        sum(ending.ty - ending.t * ending.y / ending.n) as ty_end,
        sum(
            ending.tt + 2 * ending.weeks * ending.t + ending.weeks * ending.weeks * ending.n
            - pow(ending.t + ending.weeks * ending.n, 2) / whole.n
        ) as hh,
        sum(
            ending.tt + ending.weeks * ending.t
            - (ending.t + ending.weeks * ending.n) * whole.t / whole.n
        ) as th,
        sum(
            ending.ty + ending.weeks * ending.y
            - (ending.t + ending.weeks * ending.n) * whole.y / whole.n
        ) as hy,
    from int_lift_look__summed as whole
    inner join int_lift_look__spanned as ending
        on
            whole.look = ending.look
            and whole.band = ending.band
            and whole.level = ending.level
    group by all
),

ends as (
    select
        wholes.look,
        endings.weeks,
        endings.n_end,
        endings.tt_end,
        endings.ty_end / nullif(endings.tt_end, 0) as end_rate,
        wholes.tt,
        endings.hh,
        endings.th,
        wholes.tt * endings.hh - endings.th * endings.th as det,
        (endings.hh * wholes.ty - endings.th * endings.hy) / nullif(det, 0) as early_rate,
        (wholes.tt * endings.hy - endings.th * wholes.ty) / nullif(det, 0) as turn,
        wholes.yy - early_rate * wholes.ty - turn * endings.hy as rest,
        endings.weeks <= rules.bend_weeks_high
        and endings.n_end >= rules.bend_min_after
        and wholes.n - endings.n_end >= rules.bend_min_before
        and wholes.log_weeks >= endings.weeks + rules.bend_min_weeks_before
        and det > 1e-9 * wholes.tt * endings.hh as can_bend,
        endings.weeks >= rules.flat_min_weeks
        and wholes.log_weeks >= endings.weeks
        and endings.n_end >= rules.bend_min_after
        and endings.tt_end > 1e-9 as can_stand_alone,
    from endings
    cross join rules
    inner join wholes on endings.look = wholes.look
),

-- what sums of floats leave of a perfect course is nothing
end_lists as (
    select
        look,
        list({
            'rest': round(greatest(rest, 0), 6),
            'place': weeks,
            'n': n_end,
            'rate': round(early_rate + turn, 9),
            'early_rate': round(early_rate, 9),
            'factor': (hh + tt - 2 * th) / det,
        }) filter (where can_bend) as bends,
        list({
            'weeks': weeks,
            'n': n_end,
            'rate': round(end_rate, 9),
            'factor': 1 / tt_end,
        }) filter (where can_stand_alone) as spans,
    from ends
    group by all
),

-- what each curve rises by in its last weeks, and in those before, by its coefficient
heights as (
    select
        wholes.look,
        least(rules.curve_early_weeks, wholes.run_weeks - rules.curve_end_weeks) as early_weeks,
        case
            when wholes.log_weeks >= rules.curve_end_weeks + rules.bend_min_weeks_before
                then [
                    {
                        'place': 1,
                        'ee': wholes.quick_ee,
                        'ey': -wholes.quick_ey,
                        'ended': -1.0,
                        'turned': -exp(rules.curve_end_weeks / rules.curve_weeks_short),
                        'started': -exp(
                            (rules.curve_end_weeks + early_weeks) / rules.curve_weeks_short
                        ),
                    },
                    {
                        'place': 2,
                        'ee': wholes.slow_ee,
                        'ey': -wholes.slow_ey,
                        'ended': -1.0,
                        'turned': -exp(rules.curve_end_weeks / rules.curve_weeks_long),
                        'started': -exp(
                            (rules.curve_end_weeks + early_weeks) / rules.curve_weeks_long
                        ),
                    },
                    {
                        'place': 3,
                        'ee': wholes.log_ee,
                        'ey': wholes.log_ey,
                        'ended': ln(wholes.run_weeks + rules.curve_log_weeks),
                        'turned': ln(
                            wholes.run_weeks - rules.curve_end_weeks + rules.curve_log_weeks
                        ),
                        'started': ln(
                            wholes.run_weeks
                            - rules.curve_end_weeks
                            - early_weeks
                            + rules.curve_log_weeks
                        ),
                    },
                ]
        end as curves,
    from wholes
    cross join rules
),

-- the line with a step, the line and the curves
courses as (
    select
        wholes.*,
        heights.early_weeks,
        heights.curves,
        wholes.tt * wholes.step_nn - wholes.step_nt * wholes.step_nt as det,
        det > 1e-9 * wholes.tt * wholes.step_nn as can_step,
        (wholes.step_nn * wholes.ty - wholes.step_nt * wholes.step_ny) / nullif(det, 0)
            as step_rate,
        (wholes.tt * wholes.step_ny - wholes.step_nt * wholes.ty) / nullif(det, 0) as step_size,
        wholes.yy - step_rate * wholes.ty - step_size * wholes.step_ny as step_rest,
    from wholes
    inner join heights on wholes.look = heights.look
)

select
    courses.look,
    courses.n::integer as n,
    {
        'rest': round(greatest(courses.yy - courses.ty * courses.ty / courses.tt, 0), 6),
        'rate': round(courses.ty / courses.tt, 9),
        'factor': 1 / courses.tt,
    } as line,
    case
        when courses.can_step and abs(courses.step_size) >= rules.weak_step_pct
            then {
                'rest': round(greatest(courses.step_rest, 0), 6),
                'rate': round(courses.step_rate, 9),
                'factor': courses.step_nn / courses.det,
            }
    end as step,
    end_lists.bends,
    end_lists.spans,
    [
        {
            'rest': round(greatest(courses.yy - each.ey * each.ey / each.ee, 0), 6),
            'place': each.place,
            'rate': round(
                each.ey / each.ee * (each.ended - each.turned) / rules.curve_end_weeks, 9
            ),
            'early_rate': round(
                each.ey / each.ee * (each.turned - each.started) / courses.early_weeks, 9
            ),
            'factor': pow((each.ended - each.turned) / rules.curve_end_weeks, 2) / each.ee,
        }
        -- rounded: sessions that are all alike rise by no hair of a float
        for each in courses.curves if each.ee > 1e-9 and round(each.ey / each.ee, 9) > 0
    ] as curves,
from courses
cross join rules
left join end_lists on courses.look = end_lists.look  -- noqa: ST11
