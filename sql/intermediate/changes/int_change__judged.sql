-- One row per change that is followed, those that nobody noted included: what became of it. The joint
-- rate of the lifts trained on both sides (int_client_span__joined) since the change against the one
-- before, by Welch's t. In a cut the question is whether strength holds.
-- grain: client_id, changed_on, code, subject
-- client_id: the client
-- changed_on: first day of the changed training
-- code: the finding that it follows; empty: none
-- subject: what that is about
-- change: see int_change__followed
-- origin: noted, adopted, sent or step
-- compared_from: first day of what it is compared with
-- followed_until: last day on which it is followed, up to the last covered day
-- is_done: whether it was done, see int_change__done
-- done_by: by what measure
-- measure_before: over the four weeks before
-- measure_since: over the last four weeks in which it is followed
-- lifts: lifts judged on both sides [lifts]
-- rate_before: joint rate before [%/week]
-- rate_since: joint rate since [%/week]
-- since_low: lower end of its 95 % interval [%/week]
-- since_high: upper end of its 95 % interval [%/week]
-- difference: since − before [%/week]
-- difference_low: lower end of its interval [%/week]
-- difference_high: upper end of its interval [%/week]
-- is_cutting: whether most of the days since are of a cut
-- verdict: worked, made_worse, no_difference, too_early or not_done; null: in pause or care
-- look_again_on: where it is too early: the day on which it will probably tell; null: never
with rules as (
    select *,
    from review.rules
),

cuts as (
    select
        followed.client_id,
        followed.change,
        sum(
            least(phases.to_on, followed.followed_until)
            - greatest(phases.from_on, followed.changed_on) + 1
        ) as days,
    from int_change__followed as followed
    inner join stg_phases as phases
        on
            followed.client_id = phases.client_id
            and phases.kind = 'cut'
            and phases.from_on <= followed.followed_until
            and phases.to_on >= followed.changed_on
    group by all
),

sides as (
    select
        followed.*,
        clients.is_led,
        greatest(followed.changed_on, clients.look_on) as looked_on,
        before.rate as rate_before,
        -- neighbouring days that are alike tell less than their number says
        before.rate_se * sqrt((1 + before.correlation) / (1 - before.correlation)) as se_before,
        greatest(before.days - 2, 1) as freedom_before,
        since.lifts,
        since.rate as rate_since,
        since.rate_se * sqrt((1 + since.correlation) / (1 - since.correlation)) as se_since,
        greatest(since.days - 2, 1) as freedom_since,
        since.until_on - since.from_on + 1 as days_since,
        coalesce(
            cuts.days > (followed.followed_until - followed.changed_on + 1) / 2, false
        ) as is_cutting,
    from int_change__followed as followed
    inner join int_client__looked as clients
        on followed.client_id = clients.client_id and clients.is_last
    left join int_client_span__joined as before
        on
            followed.client_id = before.client_id
            and followed.change = before.pair
            and followed.before_from = before.from_on
    left join int_client_span__joined as since
        on
            followed.client_id = since.client_id
            and followed.change = since.pair
            and followed.changed_on = since.from_on
    left join cuts on followed.client_id = cuts.client_id and followed.change = cuts.change
),

differences as (
    select
        *,
        rate_since - rate_before as difference,
        sqrt(pow(se_before, 2) + pow(se_since, 2)) as se,
        pow(se, 4) / nullif(
            pow(se_before, 4) / freedom_before + pow(se_since, 4) / freedom_since, 0
        ) as freedom,
    from sides
),

intervals as (
    select
        differences.*,
        student_quantile(1.959964, freedom_since) * se_since as since_reach,
        student_quantile(rules.follow_z, freedom) * se as reach,
    from differences
    cross join rules
),

-- how far the interval will reach after so many weeks more: an error of a slope shrinks with the
-- power 1.5 of its days
weeks_ahead as (
    select
        intervals.client_id,
        intervals.change,
        unnest(range(1, rules.follow_days // 7 + 1))::integer as weeks,
        intervals.looked_on + 7 * weeks as day,
        student_quantile(rules.follow_z, freedom) * sqrt(
            pow(se_before, 2)
            + pow(se_since, 2) * pow(days_since / (days_since + 7.0 * weeks), 3)
        ) as reach,
        abs(difference) as difference,
        intervals.ends_on,
    from intervals
    cross join rules
),

tellings as (
    select
        weeks_ahead.client_id,
        weeks_ahead.change,
        min(day) as tells_on,
    from weeks_ahead
    cross join rules
    where
        day <= ends_on
        and (reach < difference or reach + difference < 2 * rules.useful_rate_pct)
    group by all
),

judged as (
    select
        intervals.*,
        done.is_done,
        done.done_by,
        done.measure_before,
        done.measure_since,
        difference - reach as difference_low,
        difference + reach as difference_high,
        tellings.tells_on,
        case
            when intervals.is_led then null
            when not done.is_done then 'not_done'
            when difference is null then 'too_early'
            when is_cutting and difference_high < 0 and rate_since + since_reach < 0
                then 'made_worse'
            when
                difference_low > 0
                or (is_cutting and rate_since - since_reach > -2 * rules.useful_rate_pct)
                then 'worked'
            -- gains that go on, if more slowly, are no harm: gains slow down by themselves
            when
                difference_high < 0
                and not is_cutting
                and not (
                    rate_since >= rules.useful_rate_pct and rate_since - since_reach > 0
                )
                then 'made_worse'
            when
                difference_low > -2 * rules.useful_rate_pct
                and difference_high < 2 * rules.useful_rate_pct
                then 'no_difference'
            else 'too_early'
        end as verdict,
    from intervals
    cross join rules
    left join int_change__done as done
        on intervals.client_id = done.client_id and intervals.change = done.change
    left join tellings
        on intervals.client_id = tellings.client_id and intervals.change = tellings.change
)

select
    judged.client_id,
    judged.changed_on,
    judged.code,
    judged.subject,
    judged.change,
    judged.origin,
    judged.before_from as compared_from,
    judged.followed_until,
    judged.is_done,
    judged.done_by,
    judged.measure_before,
    judged.measure_since,
    judged.lifts,
    judged.rate_before,
    judged.rate_since,
    round(judged.rate_since - judged.since_reach, 9) as since_low,
    round(judged.rate_since + judged.since_reach, 9) as since_high,
    round(judged.difference, 9) as difference,
    round(judged.difference_low, 9) as difference_low,
    round(judged.difference_high, 9) as difference_high,
    judged.is_cutting,
    judged.verdict,
    -- until lifts can be judged on both sides: the first weeks that may tell
    case
        when judged.verdict = 'too_early' and judged.looked_on < judged.ends_on
            then coalesce(
                judged.tells_on,
                case
                    when judged.difference is null
                        then least(
                            greatest(
                                judged.changed_on + rules.follow_first_days,
                                judged.looked_on + rules.change_days
                            ),
                            judged.ends_on
                        )
                    else judged.ends_on
                end
            )
    end as look_again_on,
from judged
cross join rules
