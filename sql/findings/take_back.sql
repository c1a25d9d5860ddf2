-- One row per client whose lifts fell off after a change that still stands: noted, adopted, sent, or a
-- step in the training that nobody noted (int_client_step__found). It is the first thing to undo. It
-- still stands where sets, sessions, failure or extended sets differ by rules.step_share from what
-- they were before, or what was to be changed is not back. Our own rule.
-- grain: client_id, look_on, subject
-- code: name of the finding
-- lever: place in the order of what to change first
-- client_id: the client
-- look_on: the last look: only there a change is followed
-- subject: the measure that shows best what changed
-- severity: how far the lifts fell off, in units of rules.useful_rate_pct
-- evidence: the numbers it rests on
-- suggestion: one small step
-- muscles: muscles concerned; null: all
-- adds_to: muscles that get more sets by it; null: going back takes sets away
with rules as (
    select *,
    from review.rules
),

-- the latest change with a verdict on its lifts: what worked since then is not undone
judged as (
    select *,
    from int_change__judged
    where verdict in ('worked', 'made_worse')
    qualify
        row_number() over (
            partition by client_id
            order by changed_on desc, code, subject
        ) = 1
),

worsened as (
    select *,
    from judged
    where verdict = 'made_worse'
),

states as (
    select
        sides.client_id,
        sides.change,
        sides.measure,
        max(sides.amount) filter (where sides.side = 'before') as before,
        max(sides.amount) filter (where sides.side = 'now') as now,
        rules.step_share * case when sides.measure like '%_share' then 1 else before end as step,
    from int_change_side__measured as sides
    cross join rules
    semi join worsened
        on sides.client_id = worsened.client_id and sides.change = worsened.change
    where
        sides.measure in ('weekly_hard_sets', 'weekly_sessions', 'failure_share', 'extended_share')
    group by sides.client_id, sides.change, sides.measure, rules.step_share
    union all by name
    -- and the very measure of the finding that was followed
    select
        done.client_id,
        done.change,
        done.done_by as measure,
        done.measure_before as before,
        done.measure_now as now,
        done.least_move as step,
    from int_change__done as done
    semi join worsened
        on done.client_id = worsened.client_id and done.change = worsened.change
    where done.done_by in ('weekly_sets', 'sets_per_session', 'weekly_rest_days')
),

worded as (
    select
        states.*,
        abs(states.now - states.before) / nullif(states.step, 0) as distance,
        coalesce(lower(muscles.label), replace(worsened.subject, '_', ' and ')) as label,
        case states.measure
            when 'weekly_hard_sets' then format('about {:.0f} hard sets a week', states.before)
            when 'weekly_sessions' then format('{:g} sessions a week', round(states.before, 1))
            when 'failure_share'
                then format('{:.0f}% of the compound sets to failure', 100 * states.before)
            when 'extended_share'
                then case
                    when states.before < 0.005 then 'no set extended past failure'
                    else format('{:.0f}% of the sets extended past failure', 100 * states.before)
                end
            when 'weekly_sets' then format('{:.0f} sets a week for {}', states.before, label)
            when 'sets_per_session'
                then format('{:.0f} sets a session for {}', states.before, label)
            when 'weekly_rest_days' then format('{:g} rest days a week', round(states.before, 1))
        end as words,
    from states
    inner join worsened
        on states.client_id = worsened.client_id and states.change = worsened.change
    left join stg_muscles as muscles on worsened.subject = muscles.muscle
),

standing as (
    select
        client_id,
        change,
        arg_max(measure, { 'distance': round(distance, 9), 'name': measure }) filter (
            where distance >= 1
        ) as measure,
        string_agg(words, ', ' order by distance desc, measure) filter (
            where distance >= 1
        ) as goal,
        map_from_entries(list((measure, round(before, 9)))) as before,
        map_from_entries(list((measure, round(now, 9)))) as now,
    from worded
    group by all
    having measure is not null
),

all_muscles as (
    select list(muscle order by position) as muscles,
    from stg_muscles
)

select
    'take_back' as code,
    6 as lever,
    worsened.client_id::varchar as client_id,
    looks.look_on,
    standing.measure as subject,
    round(-worsened.difference / nullif(rules.useful_rate_pct, 0), 9) as severity,
    json_object(
        'since_on', worsened.changed_on,
        'kind', case when worsened.origin = 'step' then 'step' end,
        'lifts_judged', worsened.lifts,
        'rate_before_pct', worsened.rate_before,
        'rate_since_pct', worsened.rate_since,
        'rate_low_pct', worsened.since_low,
        'rate_high_pct', worsened.since_high,
        'hard_sets_before', standing.before['weekly_hard_sets'],
        'hard_sets_now', standing.now['weekly_hard_sets'],
        'sessions_before', standing.before['weekly_sessions'],
        'sessions_now', standing.now['weekly_sessions'],
        'failure_before_share', standing.before['failure_share'],
        'failure_now_share', standing.now['failure_share'],
        'extended_before_share', standing.before['extended_share'],
        'extended_now_share', standing.now['extended_share']
    ) as evidence,
    'Go back to what it was before: ' || standing.goal || '.' as suggestion,
    null::varchar[] as muscles,
    case
        when standing.before['weekly_hard_sets'] > standing.now['weekly_hard_sets']
            then all_muscles.muscles
    end as adds_to,
from worsened
cross join rules
cross join all_muscles
inner join int_client__looked as looks
    on worsened.client_id = looks.client_id and looks.is_last
inner join standing
    on worsened.client_id = standing.client_id and worsened.change = standing.change
