-- One row per span: how much was trained in it, and how close to failure.
-- grain: span
-- span: this or against
-- days: length of the span, days without training included [days]
-- sessions: days with a logged set [sessions]
-- weekly_sessions: the same a week [sessions a week]
-- weekly_hard_sets: hard sets a week [sets a week]
-- recorded_share: share of work sets with recorded effort; null: no work set
-- failure_share: of these, share without a repetition in reserve
-- easy_share: of these, share with 4 or more in reserve
-- extended_share: share of hard sets that went on after failure
-- records: sets of it that hold a record of the present level to this day [sets]
with totals as (
    select
        spans.span,
        any_value(spans.to_on - spans.from_on + 1) as days,
        count(distinct graded.performed_on) as sessions,
        count(*) filter (where graded.is_hard) as hard_sets,
        count(*) filter (where graded.effort_basis is not null) as work_sets,
        count(*) filter (where graded.effort_basis = 'recorded') as recorded_sets,
        count(*) filter (where graded.effort_basis = 'recorded' and graded.rir_used <= 0)
            as failed_sets,
        count(*) filter (
            where graded.effort_basis = 'recorded' and graded.rir_used >= rules.easy_rir
        ) as easy_sets,
        count(*) filter (where graded.is_hard and graded.is_extended) as extended_sets,
    from asked_spans as spans
    cross join review.rules as rules
    left join review.graded_sets as graded
        on
            spans.client_id = graded.client_id
            and graded.performed_on between spans.from_on and spans.to_on
    group by spans.span
),

records as (
    select
        spans.span,
        count(distinct records.set_id) as records,
    from asked_spans as spans
    left join review.records as records
        on
            spans.client_id = records.client_id
            and records.performed_on between spans.from_on and spans.to_on
    group by spans.span
)

select
    totals.span,
    totals.days,
    totals.sessions,
    round(7 * totals.sessions / totals.days, 9) as weekly_sessions,
    round(7 * totals.hard_sets / totals.days, 9) as weekly_hard_sets,
    round(totals.recorded_sets / nullif(totals.work_sets, 0), 9) as recorded_share,
    round(totals.failed_sets / nullif(totals.recorded_sets, 0), 9) as failure_share,
    round(totals.easy_sets / nullif(totals.recorded_sets, 0), 9) as easy_share,
    round(totals.extended_sets / nullif(totals.hard_sets, 0), 9) as extended_share,
    records.records,
from totals
inner join records on totals.span = records.span
