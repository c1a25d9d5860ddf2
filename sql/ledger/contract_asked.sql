-- At most one row: of which state of the ledger all verdicts in ledger.checks are. While rows and
-- limits are the same, the contract need not be asked again.
-- grain: fingerprint
-- fingerprint: of the rows and limits that the data contract was asked of
create table if not exists ledger.contract_asked (
    fingerprint varchar not null,
);
