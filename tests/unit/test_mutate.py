"""Terms of the model whose signs are turned: each stands where the list says, and there once."""

import pytest

from tests.mutate import CHANGES, ROOT


@pytest.mark.parametrize("change", CHANGES, ids=[change.term for change in CHANGES])
def test_its_term_is_found_once(change):
    assert (ROOT / change.file).read_text(encoding="utf-8").count(change.old) == 1
