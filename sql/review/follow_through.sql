-- One row per change that was noted, adopted from a finding, or sent last as the first change: whether
-- it was done, and whether it worked. Done by the finding's own measure, four weeks before against
-- the last four in which it is followed. Worked by the joint rate of the lifts trained on both sides,
-- up to twelve weeks before against all days since, until the next change, at most 26 weeks. What was
-- noted of one lift, such as another machine, is no change in the training. Both
-- are our own rule; how often it errs is measured in tests/simulation/.
-- grain: client_id, changed_on, code, subject
-- client_id: the client
-- changed_on: first day of the changed training
-- code: the finding that it follows; empty: noted without one
-- subject: what that is about; empty: the client as a whole
-- origin: noted, adopted, or sent: the last first change that went out by mail
-- compared_from: first day of what it is compared with
-- followed_until: last day on which it is followed, up to the last covered day
-- is_done: whether it was done; null: not measurable, or too early
-- done_by: by what measure, shares and amounts a week; null: none
-- measure_before: over the four weeks before
-- measure_since: over the last four weeks in which it is followed
-- lifts: lifts judged on both sides [lifts]
-- rate_before: joint rate of the lifts before [%/week]
-- rate_since: joint rate since [%/week]
-- since_low: lower end of its 95 % interval [%/week]
-- since_high: upper end of its 95 % interval [%/week]
-- difference: since − before [%/week]
-- difference_low: lower end of its interval, rules.follow_z wide [%/week]
-- difference_high: upper end of its interval [%/week]
-- verdict: worked, made_worse, no_difference (the interval lies within twice rules.useful_rate_pct),
-- too_early or not_done; in a cut it worked if strength holds, and nothing is made worse while the
-- lifts still gain rules.useful_rate_pct; null: in pause or care
-- look_again_on: where it is too early: the day on which it will probably tell; null: no more
select
    client_id::varchar as client_id,
    changed_on,
    code,
    subject,
    origin,
    compared_from,
    followed_until,
    is_done,
    done_by,
    measure_before,
    measure_since,
    lifts,
    rate_before,
    rate_since,
    since_low,
    since_high,
    difference,
    difference_low,
    difference_high,
    verdict,
    look_again_on,
from int_change__judged
where origin <> 'step'
