-- One row per client with sets: digests of its rows of the ledger, as far as pages tell of them. A
-- stored row never changes but for what replaces it, so its number and what replaced it say all.
with own_sets as (
    select
        client_id,
        load_id,
        count(*) as sets,
        count(replaced_by) as replaced,
        bit_xor(hash(source_line, set_id, replaced_by)) as rows_digest,
    from ledger.sets
    group by all
),

own_loads as (
    select
        own_sets.client_id,
        bit_xor(hash(own_sets, loads)) as digest,
    from own_sets
    inner join ledger.loads as loads on own_sets.load_id = loads.load_id
    group by all
),

own_checks as (
    select
        own_sets.client_id,
        bit_xor(hash(checks)) as digest,
    from own_sets
    inner join ledger.checks as checks on own_sets.load_id = checks.load_id
    group by all
),

weigh_ins as (
    select
        client_id,
        bit_xor(hash(bodyweights)) as digest,
    from ledger.bodyweights as bodyweights
    group by all
),

mails as (
    select
        client_id,
        bit_xor(hash(mails)) as digest,
    from ledger.mails as mails
    group by all
)

select
    own_loads.client_id,
    own_loads.digest as sets_digest,
    own_checks.digest as checks_digest,
    weigh_ins.digest as weigh_ins_digest,
    mails.digest as mails_digest,
from own_loads
left join own_checks on own_loads.client_id = own_checks.client_id
left join weigh_ins on own_loads.client_id = weigh_ins.client_id
left join mails on own_loads.client_id = mails.client_id
