"""great-expectations, in memory and silent; nothing else imports it."""

from __future__ import annotations

import logging
import os
import warnings
from collections.abc import Sequence
from functools import cache
from typing import TYPE_CHECKING, Any

from pipeline.checks.contract.clauses import Clause

if TYPE_CHECKING:
    import pandas as pd


class Library:
    """The library in memory: no file, no network, no progress bar, no word on stderr."""

    def __init__(self) -> None:
        # It reports its use over the network unless told not to before it is imported.
        os.environ["GX_ANALYTICS_ENABLED"] = "false"
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # it imports modules that Python calls deprecated
            import great_expectations as gx
            from great_expectations import expectations
            from great_expectations.data_context.types import base
        logging.getLogger("great_expectations").setLevel(logging.CRITICAL)
        self._gx: Any = gx
        self._expectations: Any = expectations
        context: Any = gx.get_context(
            project_config=base.DataContextConfig(
                store_backend_defaults=base.InMemoryStoreBackendDefaults(init_temp_docs_sites=False)
            ),
            mode="ephemeral",
        )
        context.variables.progress_bars = {"globally": False}
        asset = context.data_sources.add_pandas("ledger").add_dataframe_asset("batch")
        self._definition: Any = asset.add_batch_definition_whole_dataframe("whole")

    def validated(self, asked: Sequence[Clause], batch: pd.DataFrame) -> list[Any]:
        """One result a clause, with the places of all rows that break it."""
        suite = self._gx.ExpectationSuite(
            name="ledger",
            expectations=[
                getattr(self._expectations, clause.expects)(
                    **clause.given, meta={"key": clause.key}
                )
                for clause in asked
            ],
        )
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # pandas deprecations inside the library
            whole = self._definition.get_batch(batch_parameters={"dataframe": batch})
            results = whole.validate(suite, result_format={"result_format": "COMPLETE"}).results
        return list(results)


@cache
def library() -> Library:
    """The library, imported on first use: that takes two seconds."""
    return Library()
