-- Versions of one source of which no set counts any more, though they gave some, are replaced: a
-- person who lists the versions sees which of them the figures still rest on.
update ledger.loads set state = 'replaced'
where
    source = $source
    and state = 'loaded'
    and load_id in (
        select load_id,
        from ledger.sets
    )
    and load_id not in (
        select load_id,
        from ledger.sets
        where replaced_by is null
    );
